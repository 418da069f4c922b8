using System.Text.Json;
using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Http.Reading;

namespace Traceability.Service.Features.Releases;

/// <summary>The records that signatures are put under, from what is stored: not from what this version of the service reads in it.</summary>
internal sealed class SignedRecords(NpgsqlDataSource database)
{
    /// <summary>The signature with the hash of its record.</summary>
    public async Task<Signature> SealAsync(Signature signature, CancellationToken cancellation) => signature with
    {
        RecordHash = await HashAsync(signature, cancellation) ?? throw new InvalidOperationException("Some of the facts that are to be signed are not stored."),
    };

    /// <summary>Whether what is stored still gives the hash that was signed.</summary>
    public async Task<bool> MatchesAsync(Signature signature, CancellationToken cancellation) =>
        string.Equals(await HashAsync(signature, cancellation), signature.RecordHash, StringComparison.Ordinal);

    private async Task<string?> HashAsync(Signature signature, CancellationToken cancellation)
    {
        var units = signature.Units.ToDictionary(u => StreamNames.Of(u.Unit), u => u.Unit, StringComparer.Ordinal);
        var facts = units.Values.ToDictionary(u => u, _ => ImmutableArray.CreateBuilder<SignedFact>());
        await using var command = database.CreateCommand("select stream_id, id, type, data::text from events.mt_events where stream_id = any($1) order by stream_id, version");
        command.Parameters.Add(new() { Value = units.Keys.ToArray(), NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Varchar });
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            using var content = JsonDocument.Parse(reader.GetString(3));
            facts[units[reader.GetString(0)]].Add(new(reader.GetGuid(1), reader.GetString(2), Convert.ToHexStringLower(FactContent.Hash(content.RootElement))));
        }

        return ReleaseContent.RecordHash(signature, facts.ToDictionary(f => f.Key, f => f.Value.ToImmutable()));
    }
}
