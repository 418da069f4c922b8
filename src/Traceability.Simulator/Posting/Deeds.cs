using Traceability.Contracts.Facts;
using Traceability.Contracts.Shipments;
using Traceability.Simulator.Plant;

namespace Traceability.Simulator.Posting;

/// <summary>What people do in the demo beside reporting: files are stored before the facts that name them, pumps are released by signature and leave together.</summary>
/// <param name="client">Speaks with the service.</param>
/// <param name="adminKey">An administrator's key.</param>
public sealed class Deeds(ServiceClient client, string adminKey)
{
    /// <summary>Who signs.</summary>
    public const string Signer = "P-9";

    /// <summary>With which secret: it is a demo, so everyone may know it.</summary>
    public const string Secret = "field-pumps-of-the-demo";

    /// <summary>The order that they leave on.</summary>
    public const string Order = "SO-9001";

    /// <summary>Stores the files that the plant's facts name.</summary>
    public async Task StoreFilesAsync(PlantRun plant, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(plant);
        foreach (var file in plant.Files)
        {
            await client.StoreAsync(file, adminKey, cancellation).ConfigureAwait(false);
        }
    }

    /// <summary>Signs the release of the pumps that wait for it, now; gives each with the service's answer.</summary>
    public async Task<IReadOnlyList<(string Unit, FactAnswer Answer)>> SignAsync(PlantRun plant, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(plant);
        await client.SetSigningSecretAsync(Signer, Secret, adminKey, cancellation).ConfigureAwait(false);
        var signed = new List<(string, FactAnswer)>();
        foreach (var unit in plant.Truth.Unsigned)
        {
            // The same id in every run of the same demo: taken up again, it signs nothing twice.
            var id = SplitMix.For(plant.Seed, "release/" + unit).Id();
            signed.Add((unit, await client.ReleaseAsync(unit, new(id, Signer, Secret, "Complete and tested; released", "QC-1"), adminKey, cancellation).ConfigureAwait(false)));
        }

        return signed;
    }

    /// <summary>Lets the pumps that were released leave together, by one decision; null where there are none.</summary>
    public async Task<FactAnswer?> ShipAsync(PlantRun plant, IReadOnlyList<string> units, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(plant);
        ArgumentNullException.ThrowIfNull(units);
        if (units.Count == 0)
        {
            return null;
        }

        var shipment = new ShipmentRequest
        {
            ShipmentId = SplitMix.For(plant.Seed, "shipment").Id(),
            Consignee = "Wexmoor Water Survey",
            OrderReference = Order,
            Person = "P-30",
            Station = "STORE-1",
            Units = [.. units.Select(u => new UnitRef { Item = u.Split('/')[0], Serial = u.Split('/')[1] })],
        };
        return await client.ShipAsync(shipment, adminKey, cancellation).ConfigureAwait(false);
    }
}
