using Traceability.Domain.Judging;

namespace Traceability.Domain.Scope;

/// <summary>The units that suspect work was done on, and those of which a record of work is missing that could have been suspect.</summary>
internal static class WorkStart
{
    /// <summary>Looks them up.</summary>
    public static async ValueTask<DirectReaches> FindAsync(SuspectWork suspect, IScopeSource source, CancellationToken cancellation)
    {
        var found = new DirectReaches(suspect);
        foreach (var work in await source.WorkAsync(suspect, cancellation))
        {
            found.AddRecord(Share(suspect, work), HopKind.Worked, work.Unit, work.RowId, (work.From, work.To), work.Step, work.Station);
        }

        foreach (var gap in await source.WorkGapsAsync(WorkGapKind.Step, suspect.Item, null, cancellation))
        {
            if (IsOf(suspect.Variant?.Value, gap.Variant ?? string.Empty) is not null
                && IsOf(suspect.Revision?.Value, gap.Revision) is not null
                && IsOf(suspect.Person?.Value, gap.Person) is not null)
            {
                found.AddGap(HopKind.WorkMissing, gap);
            }
        }

        return found;
    }

    // The unit's item and variant are known; a revision that did not apply is none.
    private static ScopeVerdict? Share(SuspectWork suspect, WorkRow work)
    {
        if ((suspect.Item is { } item && !work.Unit.StartsWith(item.Value + "/", StringComparison.Ordinal))
            || IsOf(suspect.Variant?.Value, work.Variant ?? string.Empty) is null
            || IsOf(suspect.Revision?.Value, work.Revision ?? string.Empty) is null)
        {
            return null;
        }

        return IsOf(suspect.Person?.Value, work.Person);
    }

    private static ScopeVerdict? IsOf(string? asked, string? recorded) =>
        asked is null ? ScopeVerdict.Proven
        : recorded is null ? ScopeVerdict.Possible
        : string.Equals(asked, recorded, StringComparison.Ordinal) ? ScopeVerdict.Proven
        : null;
}
