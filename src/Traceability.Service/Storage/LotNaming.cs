using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Facts;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Storage;

/// <summary>Which lots name a lot that they were made of, or a supplier's lot: where to look, never the answer itself.</summary>
internal static class LotNaming
{
    /// <summary>The lots ($1: a text[] of item/lot) and all that were made of them, at any depth, as the column lot of "made".</summary>
    public const string Made =
        """
        with recursive made (lot) as (
            select unnest($1::text[])
            union select n.lot from made m cross join lateral (
                select lot from traceability.lot_naming where kind = 'source' and name = m.lot offset 0) n)
        """;

    /// <summary>The units that name one of these lots, or one that was made of them, as the column unit.</summary>
    public const string UnitsOf =
        $"""
        select u.unit from (
            {Made} select m.unit from made cross join lateral (
                select unit from traceability.material_usage
                where item = split_part(made.lot, '/', 1) and lot = substr(made.lot, strpos(made.lot, '/') + 1) offset 0) m) u
        """;

    /// <summary>The units that name a mix of one of these items ($1: a text[]), or a lot that was made of it, as the column unit. Looks through all lots.</summary>
    public static readonly string UnitsOfMixesWith = UnitsOf.Replace(
        "$1::text[]",
        """
        array(select n.lot from traceability.lot_naming n
        where n.kind = 'source' and split_part(n.name, '/', 1) = any($1) and split_part(n.name, '/', 1) <> split_part(n.lot, '/', 1))
        """,
        StringComparison.Ordinal);

    private const string FactsOfMade =
        $"""
        {Made} select e.* from made cross join lateral (
            select {EventReader.Columns} from events.mt_events where stream_id = '{StreamNames.LotPrefix}' || made.lot offset 0) e
        """;

    private static readonly Statement<(string Kind, string Name, string Lot)> Insert = new Columns<(string Kind, string Name, string Lot)>()
        .Text("kind", n => n.Kind)
        .Text("name", n => n.Name)
        .Text("lot", n => n.Lot)
        .InsertInto("traceability.lot_naming", "on conflict do nothing");

    /// <summary>Adds the statement that notes what facts about lots name; none where they name nothing.</summary>
    public static void Add(NpgsqlBatch batch, IEnumerable<Fact> facts) => Insert.AddTo(batch, [.. facts.SelectMany(Names).Distinct()]);

    /// <summary>The lot, those that it was made of and those that were made of it, with their facts, at any depth; a lot without facts is left out.</summary>
    public static async Task<Dictionary<LotKey, Lot>> LoadAsync(NpgsqlConnection connection, IReadOnlyCollection<LotKey> lots, CancellationToken cancellation)
    {
        await using var batch = new NpgsqlBatch(connection) { BatchCommands = { LoadCommand(lots) } };
        await using var reader = await batch.ExecuteReaderAsync(cancellation);
        var found = await ReadMadeAsync(reader, cancellation);
        await reader.DisposeAsync();
        await AddSourcesAsync(connection, found, cancellation);
        return found;
    }

    /// <summary>The statement that begins <see cref="LoadAsync"/>, for a batch.</summary>
    public static NpgsqlBatchCommand LoadCommand(IReadOnlyCollection<LotKey> lots) => new(FactsOfMade)
    {
        Parameters = { new() { Value = lots.Select(l => l.ToString()).ToArray(), NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Text } },
    };

    /// <summary>Reads its result: the lots and those that were made of them.</summary>
    public static async Task<Dictionary<LotKey, Lot>> ReadMadeAsync(NpgsqlDataReader reader, CancellationToken cancellation)
    {
        var found = new Dictionary<LotKey, Lot>();
        Add(found, await EventReader.ReadAsync(reader, cancellation));
        return found;
    }

    /// <summary>Adds the lots that these were made of, at any depth.</summary>
    public static async Task AddSourcesAsync(NpgsqlConnection connection, Dictionary<LotKey, Lot> found, CancellationToken cancellation)
    {
        var seen = found.Keys.ToHashSet();
        List<LotKey> open = [.. found.Values.SelectMany(l => l.Sources()).Where(seen.Add)];
        while (open.Count > 0)
        {
            Add(found, await EventReader.LoadAsync(connection, [.. open.Select(StreamNames.Of)], cancellation));
            open = [.. open.Where(found.ContainsKey).SelectMany(k => found[k].Sources()).Where(seen.Add)];
        }
    }

    private static void Add(Dictionary<LotKey, Lot> found, Dictionary<string, ImmutableArray<RecordedFact>> streams)
    {
        foreach (var (stream, facts) in streams)
        {
            var key = LotKey.Parse(stream[StreamNames.LotPrefix.Length..]);
            found[key] = Lot.Of(key, facts);
        }
    }

    /// <summary>The lots that name a supplier's lot, or did.</summary>
    public static async Task<List<LotKey>> OfSupplierLotAsync(NpgsqlConnection connection, string supplierLot, CancellationToken cancellation) =>
        await ReadAsync(
            connection,
            "select lot from traceability.lot_naming where kind = 'supplier-lot' and name = $1 order by lot collate \"C\"",
            new() { Value = supplierLot, NpgsqlDbType = NpgsqlDbType.Text },
            cancellation);

    private static async Task<List<LotKey>> ReadAsync(NpgsqlConnection connection, string sql, NpgsqlParameter parameter, CancellationToken cancellation)
    {
        var lots = new List<LotKey>();
        await using var command = new NpgsqlCommand(sql, connection) { Parameters = { parameter } };
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            lots.Add(LotKey.Parse(reader.GetString(0)));
        }

        return lots;
    }

    private static IEnumerable<(string Kind, string Name, string Lot)> Names(Fact fact) => fact switch
    {
        LotReceived { SupplierLot: { } supplierLot } received => [("supplier-lot", supplierLot, received.Lot.ToString())],
        ILotInflow inflow => inflow.Sources.Select(s => ("source", s.Lot.ToString(), inflow.Lot.ToString())),
        RecordCorrected corrected => Names(corrected.Replacement),
        _ => [],
    };
}
