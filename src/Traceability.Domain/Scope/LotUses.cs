using System.Runtime.InteropServices;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Scope;

/// <summary>What the records that name a lot say of how much was used, for its mass balance: those that say the same, as one.</summary>
public static class LotUses
{
    /// <summary>The uses that may have been before a moment, this time included. One that may also have been after it isn't sure.</summary>
    public static IReadOnlyCollection<LotUse> Until(IEnumerable<UsageRow> rows, DateTimeOffset until)
    {
        ArgumentNullException.ThrowIfNull(rows);
        var counts = new Dictionary<(string? Quantity, bool IsUnsure), int>();
        foreach (var row in rows)
        {
            if (!row.IsOwnLot && row.From <= until)
            {
                CollectionsMarshal.GetValueRefOrAddDefault(counts, (row.Quantity, row.IsOneOf || row.To > until), out _)++;
            }
        }

        return [.. counts.Select(c => new LotUse(c.Key.Quantity is { } text ? EnteredQuantity.Parse(text) : null, c.Key.IsUnsure, c.Value))];
    }

    /// <summary>What units used, without those that say no quantity, or one of several lots.</summary>
    public static IReadOnlyCollection<LotUseOfUnit> PerUnit(IEnumerable<UsageRow> rows)
    {
        ArgumentNullException.ThrowIfNull(rows);
        var quantities = rows.Where(r => !r.IsOwnLot).GroupBy(r => r.Unit, StringComparer.Ordinal)
            .Where(u => u.All(r => r.Quantity is not null && !r.IsOneOf))
            .Select(u => u.Select(r => r.Quantity!).Order(StringComparer.Ordinal).ToArray());
        return
        [
            .. quantities.GroupBy(q => string.Join('\n', q), StringComparer.Ordinal)
                .Select(g => new LotUseOfUnit([.. g.First().Select(EnteredQuantity.Parse)], g.Count())),
        ];
    }

    /// <summary>How many uses say no quantity.</summary>
    public static int CountWithoutQuantity(IEnumerable<UsageRow> rows) => rows.Count(r => !r.IsOwnLot && r.Quantity is null);
}
