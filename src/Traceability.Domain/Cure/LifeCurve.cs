using System.Runtime.CompilerServices;
using Traceability.Domain.Judging;

namespace Traceability.Domain.Cure;

/// <summary>How fast a life is used up, by temperature; 1 is the whole life.</summary>
/// <remarks>
/// Between two rows ln(time) is linear in 1/T, as in <see cref="CureCurve"/>. Nothing is extrapolated, and what isn't told is never in
/// favour of a longer life: colder than the coldest row it is used up somewhere between not at all and as fast as at that row; hotter
/// than the hottest row at least as fast as there, and how much faster isn't known. Common practice, without a source.
/// </remarks>
public sealed class LifeCurve
{
    // Far below any reading.
    private const decimal ColdKelvin = 0.001m;

    // A microkelvin above the hottest row: anything that is hotter counts from there on.
    private const double AboveKelvin = 1e-6;

    private static readonly ConditionalWeakTable<LifeTable, LifeCurve?[]> Cache = [];

    private LifeCurve(CureCurve least, CureCurve most, CureCurve beyond)
    {
        Least = least;
        Most = most;
        Beyond = beyond;
    }

    /// <summary>The least that is used up.</summary>
    public CureCurve Least { get; }

    /// <summary>The most, where it was never hotter than the hottest row.</summary>
    public CureCurve Most { get; }

    /// <summary>Gives a dose above nothing exactly where it was hotter than the hottest row.</summary>
    public CureCurve Beyond { get; }

    /// <summary>The curve of a table; null where no row can be read.</summary>
    public static LifeCurve? Of(LifeTable table)
    {
        ArgumentNullException.ThrowIfNull(table);
        return Cache.GetValue(table, static t => [Make(t)])[0];
    }

    private static LifeCurve? Make(LifeTable table)
    {
        var rows = new List<(double Kelvin, CureRow Row)>();
        foreach (var row in table.Rows.OrEmpty())
        {
            if (row is not null && row.Time > TimeSpan.Zero && Temperatures.TryKelvin(row.Temperature, out var kelvin))
            {
                rows.Add((kelvin, new(row.Temperature, null, row.Time)));
            }
        }

        if (rows.Count == 0)
        {
            return null;
        }

        CureRow[] told = [.. rows.Select(r => r.Row)];
        var coldest = new CureRow(new(ColdKelvin, "K"), null, rows.MinBy(r => r.Kelvin).Row.Full);
        var above = new CureRow(new((decimal)(rows.Max(r => r.Kelvin) + AboveKelvin), "K"), null, TimeSpan.FromTicks(1));
        return new(Curve([.. told]), Curve([coldest, .. told]), Curve([above]));
    }

    private static CureCurve Curve(ImmutableArray<CureRow> rows) => CureCurve.Of(new(rows), CureState.Full)!;
}
