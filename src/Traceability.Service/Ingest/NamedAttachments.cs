using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Ingest;

/// <summary>Looks up the files that facts name. A file is never deleted, so one that is found stays.</summary>
internal static class NamedAttachments
{
    /// <summary>Whether one of the facts names a file.</summary>
    public static bool AreIn(IReadOnlyList<PendingFact> facts)
    {
        for (var i = 0; i < facts.Count; i++)
        {
            if (!Of(facts[i].Posted.Fact).IsEmpty)
            {
                return true;
            }
        }

        return false;
    }

    /// <summary>The references with those of the named files that are stored; asks the database only where a fact names one.</summary>
    public static async ValueTask<References> AddKnownAsync(
        NpgsqlConnection connection, References references, IReadOnlyList<PendingFact> facts, CancellationToken cancellation)
    {
        if (!AreIn(facts))
        {
            return references;
        }

        List<ContentHash> known = [];
        await using var command = new NpgsqlCommand("select hash from traceability.attachment where hash = any($1)", connection)
        {
            Parameters =
            {
                new() { Value = facts.SelectMany(f => Of(f.Posted.Fact)).Select(h => h.Value).Distinct(StringComparer.Ordinal).ToArray(), NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Text },
            },
        };
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            known.Add(ContentHash.Parse(reader.GetString(0)));
        }

        return references.WithAttachments(known);
    }

    private static ImmutableArray<ContentHash> Of(Fact fact) => fact switch
    {
        INamesAttachments f => f.Attachments,
        RecordCorrected { Replacement: INamesAttachments f } => f.Attachments,
        _ => [],
    };
}
