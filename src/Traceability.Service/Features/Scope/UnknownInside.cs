using Npgsql;

namespace Traceability.Service.Features.Scope;

/// <summary>The units that hold a component of which nothing is recorded.</summary>
/// <param name="Count">How many; more than <see cref="CountMax"/> are not counted.</param>
/// <param name="First">The first of them by name; null if there is none.</param>
internal sealed record UnknownInside(int Count, string? First)
{
    /// <summary>The most that are counted.</summary>
    public const int CountMax = 1_000;

    private static readonly string Sql =
        $"""
        select count(*)::integer, min(unit) from (
            select distinct unit from traceability.trace_gap where kind = 'own-lot' and requirement is not null order by unit limit {CountMax + 1}) u
        """;

    /// <summary>The statement that asks for it, for a batch.</summary>
    public static NpgsqlBatchCommand Command() => new(Sql);

    /// <summary>Reads its result.</summary>
    public static async Task<UnknownInside> ReadAsync(NpgsqlDataReader reader, CancellationToken cancellation)
    {
        await reader.ReadAsync(cancellation);
        return new(reader.GetInt32(0), reader.IsDBNull(1) ? null : reader.GetString(1));
    }
}
