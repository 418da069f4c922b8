using Traceability.Domain.Judging;
using Traceability.Domain.Nonconformances;

namespace Traceability.Service.Ingest;

/// <content>What makes rows the same: the hash of what they say.</content>
internal sealed partial class UnitRows
{
    private static long HashOf(StepResult s, UnitStatus status)
    {
        var h = new RowHash();
        h.Add(status.Variant?.Value);
        h.Add(s.Revision?.Value);
        h.Add(s.Step.Value);
        h.Add(s.Attempt);
        h.Add(s.Record);
        h.Add(s.StartedAt);
        h.Add(s.CompletedAt);
        h.Add(s.Earliest);
        h.Add(s.Latest);
        h.Add(s.Day.DayNumber);
        h.Add(s.Station?.Value);
        h.Add(s.Person?.Value);
        h.Add(s.IsRework);
        h.Add(s.Passed);
        h.Add(s.Defects);
        h.Add(s.Opportunities);
        return h.Value;
    }

    private static long HashOf(UnitResultRow r, UnitStatus status)
    {
        var h = new RowHash();
        h.Add(status.Variant?.Value);
        h.Add(status.Revision?.Value);
        h.Add(r.Day.DayNumber);
        h.Add(r.IsScrapped);
        h.Add(r.Passed);
        return h.Value;
    }

    private static long HashOf(Finding f)
    {
        var h = new RowHash();
        h.Add(f.Kind);
        h.Add(f.Rule);
        h.Add(f.Step?.Value);
        h.Add(f.Attempt);
        h.Add(f.Record);
        h.Add(f.At);
        h.Add((int)f.Policy.Enforcement);
        h.Add(f.Policy.CountsAsDefect);
        h.Add(f.Message);
        foreach (var (name, value) in f.Evidence)
        {
            h.Add(name);
            h.Add(value);
        }

        // Rows of the time before concessions keep their identity.
        if (f.Concession is { } concession)
        {
            h.Add(concession.Value);
        }

        return h.Value;
    }

    private static long HashOf(OpenInterval i)
    {
        var h = new RowHash();
        h.Add(i.Rule.Value);
        h.Add(i.Name);
        h.Add(i.FromStep.Value);
        h.Add(i.ToStep.Value);
        h.Add(i.StartedAt);
        h.Add(i.Uncertainty.Ticks);
        h.Add(i.ReadyAt);
        h.Add(i.OverdueAt);
        h.Add((int)i.Policy.Enforcement);
        h.Add(i.Policy.CountsAsDefect);
        if (i.Assumption is { } assumption)
        {
            // Only where there is one, so that the rows of all other rules stay as they are.
            h.Add(assumption);
            h.Add(i.AssumedUntil);
        }

        if (i.MayBeOverdueAt is { } mayBe)
        {
            h.Add(mayBe);
            h.Add(i.SurelyOverdueAt);
        }

        return h.Value;
    }

    private static long HashOf(CureWindow w)
    {
        var h = new RowHash();
        h.Add(w.Place.Value);
        h.Add(w.From);
        h.Add(w.To);
        return h.Value;
    }

    private static long HashOf(MaterialUsage u)
    {
        var h = new RowHash();
        h.Add(u.Step?.Value);
        h.Add(u.Record);
        h.Add(u.Requirement?.Value);
        h.Add(u.Lot.Item.Value);
        h.Add(u.Lot.Lot.Value);
        h.Add(u.Container?.Value);
        h.Add(u.IsOneOf);
        h.Add(u.From);
        h.Add(u.To);
        h.Add(u.Station?.Value);
        if (u.Quantity is { } quantity)
        {
            // Left out where there is none, so that rows from before quantities were kept keep their identity. Two equal amounts
            // in one record are two.
            h.Add(quantity.ToString());
            h.Add(u.Line);
        }

        return h.Value;
    }

    private static long HashOf(ToolUsage u)
    {
        var h = new RowHash();
        h.Add(u.Step.Value);
        h.Add(u.Attempt);
        h.Add(u.Record);
        h.Add(u.Tool.Value);
        h.Add(u.Setting?.Value);
        h.Add(u.Requirement?.Value);
        h.Add(u.At);
        h.Add(u.From);
        h.Add(u.To);
        h.Add(u.Station?.Value);
        return h.Value;
    }

    private static long HashOf(GapRow row)
    {
        var h = new RowHash();
        var g = row.Gap;
        h.Add(row.Item.Value);
        h.Add((int)g.Kind);
        h.Add((int)g.Reason);
        h.Add(g.Step?.Value);
        h.Add(g.Record);
        h.Add(g.Requirement?.Value);
        h.Add(g.Lot?.ToString());
        h.Add(g.From);
        h.Add(g.To);
        h.Add(g.Station?.Value);
        return h.Value;
    }

    private static long HashOf(Nonconformance n)
    {
        var h = new RowHash();
        h.Add(n.Id.Value);
        h.Add((int)n.State);
        h.Add(n.Kind);
        h.Add(n.Rule);
        h.Add(n.Step?.Value);
        h.Add(n.Attempt);
        h.Add(n.Record);
        h.Add(n.At);
        h.Add(n.Message);
        h.Add(n.Disposition is { } disposition ? (int)disposition : -1);
        h.Add(n.Decision ?? Guid.Empty);
        h.Add(n.DecidedAt);
        h.Add(n.DecidedBy?.Value);
        h.Add(n.Concession?.Value);
        foreach (var step in n.Awaited)
        {
            h.Add(step.Value);
        }

        h.Add(n.EndedAt);
        h.Add(n.EndedBy ?? Guid.Empty);
        return h.Value;
    }

    private static long HashOf(Departure d)
    {
        var h = new RowHash();
        h.Add(d.Consignee);
        h.Add(d.OrderReference);
        h.Add(d.Shipment ?? Guid.Empty);
        h.Add(d.Record);
        h.Add(d.At);
        h.Add(d.ReturnedAt);
        return h.Value;
    }

    private static long HashOf(Installation i)
    {
        var h = new RowHash();
        h.Add(i.Component.ToString());
        h.Add(i.Position.Value);
        h.Add(i.Step?.Value);
        h.Add(i.Record);
        h.Add(i.From);
        h.Add(i.To);

        // Rows of exact times keep the ids that they had before there was this column.
        if (i.Uncertainty != TimeSpan.Zero)
        {
            h.Add(i.Uncertainty.Ticks);
        }

        return h.Value;
    }
}
