using Traceability.Domain.Judging;

namespace Traceability.Service.Ingest;

/// <summary>Rows of what was measured, how long intervals were and which work is missing: their identities, and values that are made up of others.</summary>
internal static class EvidenceColumns
{
    /// <summary>The stations, in one text; no code has a space. Null for none.</summary>
    public static string? Stations(WorkGap gap) => gap.Stations.IsEmpty ? null : string.Join(' ', gap.Stations);

    /// <summary>The longest time in whole microseconds, which is what the database holds, that is not longer.</summary>
    public static TimeSpan? Down(TimeSpan? span) => span is { } s ? new(s.Ticks - Beyond(s.Ticks)) : null;

    /// <summary>The shortest such time that is not shorter.</summary>
    public static TimeSpan? Up(TimeSpan? span) => span is { } s ? new(s.Ticks - Beyond(s.Ticks) + (Beyond(s.Ticks) == 0 ? 0 : TimeSpan.TicksPerMicrosecond)) : null;

    public static long HashOf(MeasuredValue m)
    {
        var h = new RowHash();
        h.Add(m.Step.Value);
        h.Add(m.Attempt);
        h.Add(m.Record);
        h.Add(m.Characteristic.Value);
        h.Add(m.Value?.Value ?? 0m);
        h.Add(m.Value?.Unit);
        h.Add(m.StandardUncertainty is not null);
        h.Add(m.StandardUncertainty ?? 0m);
        h.Add(m.Passed is { } passed ? passed ? 1 : 0 : -1);
        h.Add(m.From);
        h.Add(m.To);
        h.Add(m.Station?.Value);
        return h.Value;
    }

    public static long HashOf(IntervalResult i)
    {
        var h = new RowHash();
        h.Add(i.Rule.Value);
        h.Add(i.FromStep.Value);
        h.Add(i.ToStep.Value);
        h.Add(i.FromRecord ?? Guid.Empty);
        h.Add(i.ToRecord);
        h.Add(i.Least is not null);
        h.Add(i.Least?.Ticks ?? 0);
        h.Add(i.Most is not null);
        h.Add(i.Most?.Ticks ?? 0);
        h.Add((int)i.Verdict);
        h.Add(i.At);
        h.Add(i.Station?.Value);
        return h.Value;
    }

    public static long HashOf(WorkGap g)
    {
        var h = new RowHash();
        h.Add((int)g.Kind);
        h.Add((int)g.Reason);
        h.Add(g.Step.Value);
        h.Add(g.Requirement?.Value);
        h.Add(g.ToolClass?.Value);
        h.Add(g.Record);
        h.Add(g.From);
        h.Add(g.To);
        h.Add(g.Station?.Value);
        h.Add(g.Person?.Value);
        foreach (var station in g.Stations)
        {
            h.Add(station.Value);
        }

        if (g.Revision is { } revision)
        {
            h.Add("revision");
            h.Add(revision.Value);
        }

        return h.Value;
    }

    // How far beyond the last whole microsecond below; nothing at the ends of what a time span can hold.
    private static long Beyond(long ticks) => ticks is <= long.MinValue + 10 or >= long.MaxValue - 10
        ? 0
        : ((ticks % TimeSpan.TicksPerMicrosecond) + TimeSpan.TicksPerMicrosecond) % TimeSpan.TicksPerMicrosecond;
}
