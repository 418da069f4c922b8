using System.Data;
using Npgsql;
using Traceability.Domain.Facts;
using Traceability.Service.Ingest.Bulk;

namespace Traceability.Service.Features.Rebuilds;

/// <summary>Judges anew, in the second tables, what was written to the live ones since.</summary>
internal sealed class ShadowCatchUp(ShadowJudge judge, RebuildProgress progress)
{
    /// <summary>The most notes of written units that one transaction takes.</summary>
    public const int NotesMax = 1_000;

    /// <summary>Takes the oldest notes, and gives how many they were.</summary>
    /// <param name="connection">The connection, outside of a transaction.</param>
    /// <param name="comparison">Compares the units with the live ones, in the same snapshot; null before there is anything to compare.</param>
    /// <param name="cancellation">Gives up.</param>
    public async Task<int> TakeAsync(NpgsqlConnection connection, ShadowComparison? comparison, CancellationToken cancellation)
    {
        await using var transaction = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation);
        var noted = await Sql.ListAsync(
            connection,
            FormattableString.Invariant($"delete from {ShadowTables.Next}.dirty where id = any(array(select id from {ShadowTables.Next}.dirty order by id limit {NotesMax})) returning unit"),
            r => r.GetString(0),
            cancellation);
        if (noted.Count > 0)
        {
            string[] units = [.. noted.Distinct(StringComparer.Ordinal)];
            await ReplaceAsync(connection, units, cancellation);
            if (comparison is not null)
            {
                await comparison.CompareAsync(connection, units, cancellation);
            }

            progress.AddCaughtUp(units.Length);
        }

        await transaction.CommitAsync(cancellation);
        return noted.Count;
    }

    private async Task ReplaceAsync(NpgsqlConnection connection, string[] units, CancellationToken cancellation)
    {
        await CountAsync(connection, units, sign: -1, cancellation);
        foreach (var (table, key) in UnitTables.Keys)
        {
            await Sql.ExecuteAsync(connection, $"delete from {ShadowTables.Next}.{table} where {key} = any($1)", cancellation, [units]);
        }

        var loaded = await judge.LoadAsync(connection, [.. units.Select(u => StreamNames.UnitPrefix + u)], cancellation);
        var judged = await ShadowJudge.JudgeAsync(loaded, cancellation);
        await OwnThread.RunAsync(() => UnitTables.WriteNamed(connection, ShadowTables.Next, judged), cancellation);
        var named = judged.Where(ShadowJudge.NamesComponents).Select(u => u.Unit.Key).ToHashSet();
        if (named.Count > 0)
        {
            judged.RemoveAll(u => named.Contains(u.Unit.Key));
            judged.AddRange(await ShadowJudge.JudgeWithComponentsAsync(connection, loaded with { Units = [.. loaded.Units.Where(u => named.Contains(u.Key))] }, cancellation));
        }

        await OwnThread.RunAsync(
            () =>
            {
                UnitTables.Units.Write(connection, ShadowTables.Next, judged);
                UnitTables.WriteRows(connection, ShadowTables.Next, judged, withNamed: false);
            },
            cancellation);
        await CountAsync(connection, units, sign: 1, cancellation);
    }

    private static async Task CountAsync(NpgsqlConnection connection, string[] units, int sign, CancellationToken cancellation)
    {
        const string Where = "where unit = any($1)";
        await Sql.ExecuteAsync(connection, YieldChanges.Steps(ShadowTables.Next, "step_yield_change", sign, Where), cancellation, [units]);
        await Sql.ExecuteAsync(connection, YieldChanges.Units(ShadowTables.Next, "unit_yield_change", sign, Where), cancellation, [units]);
    }
}
