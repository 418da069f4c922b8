using Npgsql;
using Traceability.Domain.Scope;

namespace Traceability.Service.Features.Scope;

/// <content>What will be asked for of a lot whose uses are known, looked up with its gaps.</content>
internal sealed partial class SqlScopeSource
{
    private WaysAhead? _ways;
    private ItemsAhead? _items;
    private FirstCleared? _cleared;

    private Ahead AddAhead(NpgsqlBatch batch, IReadOnlyList<UsageRow> usages, ClearingRule clearing)
    {
        var units = usages.Select(u => u.Unit);
        var ahead = usages.Count <= FewUnits
            ? new Ahead(new WaysAhead(units.ToHashSet(StringComparer.Ordinal)), null, ClearedAhead, false)
            : new Ahead(null, new ItemsAhead(ItemsAhead.Of(units)), ClearedMost, IsShared(usages.Count));
        if (ahead.Ways is not null)
        {
            AddWays(batch, ahead.Ways);
        }
        else
        {
            AddItems(batch, ahead.Items!.Items);
        }

        if (CountsCleared)
        {
            batch.BatchCommands.Add(BatchCommand(FewCleared, FewClearedOf([clearing], ahead.ClearedMost)));
        }

        if (ahead.IsShared)
        {
            batch.BatchCommands.Add(BatchCommand(Moment, []));
        }

        return ahead;
    }

    private async ValueTask ReadAheadAsync(NpgsqlDataReader reader, Ahead ahead, ClearingRule clearing, CancellationToken cancellation)
    {
        await reader.NextResultAsync(cancellation);
        if (ahead.Ways is not null)
        {
            await ReadWaysAsync(reader, ahead.Ways, cancellation);
        }
        else
        {
            ahead.Items!.Components = await ReadItemsAsync(reader, ahead.Items.Rows, cancellation);
        }

        if (CountsCleared)
        {
            await reader.NextResultAsync(cancellation);
            _cleared = new(clearing, await ReadAsync(reader, static r => r.GetString(0), cancellation), ahead.ClearedMost);
        }

        if (ahead.IsShared)
        {
            await reader.NextResultAsync(cancellation);
            _moment = (await ReadAsync(reader, static r => r.GetString(0), cancellation))[0];
        }
    }

    // Of few units all that leads outwards from them, of many what there is to know of their items; which units are cleared, up to so
    // many; and where a second connection will help, what it must be told.
    private sealed record Ahead(WaysAhead? Ways, ItemsAhead? Items, int ClearedMost, bool IsShared);

    // Units that rows clear: at most one more than so many.
    private sealed record FirstCleared(ClearingRule Rule, List<string> Units, int Most)
    {
        public bool IsAll => Units.Count <= Most;
    }
}
