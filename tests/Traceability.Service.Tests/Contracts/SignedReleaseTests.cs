using System.Text.Json;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Storage;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Service.Tests.ContractTests;

/// <summary>A release is stored with its signature, and one that was stored before there were signatures reads as before.</summary>
public sealed class SignedReleaseTests
{
    [Fact]
    public void A_signature_is_stored_and_read_back_whole()
    {
        var unit = Some.Unit("FP-2", "1");
        var signature = new Signature(Some.Quality, "Noor Hale", "released", Some.At(20).AddTicks(1_234_567), [new(unit, 7), new(Some.Unit("DR-2", "8"), 3)], new('a', 64), new('b', 64));
        var fact = new UnitReleased(unit) { OccurredAt = Some.At(20), Person = Some.Quality, Signature = signature };

        var read = Assert.IsType<UnitReleased>(FactCodec.Deserialize("unit_released", FactCodec.Serialize(fact)));

        Assert.Equal(signature with { Units = [] }, read.Signature! with { Units = [] });
        Assert.Equal(signature.Units.AsEnumerable(), read.Signature.Units);
    }

    [Fact]
    public void A_release_of_before_has_none_and_is_written_as_before()
    {
        var sample = File.ReadAllText(Path.Combine(Repository.Contracts, "events", "unit_released.v1.sample.json"));
        var read = Assert.IsType<UnitReleased>(FactCodec.Deserialize("unit_released", sample));
        Assert.Null(read.Signature);
        using var written = JsonDocument.Parse(FactCodec.Serialize(read));
        Assert.False(written.RootElement.TryGetProperty("signature", out _));
    }
}
