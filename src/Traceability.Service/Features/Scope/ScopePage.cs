using Traceability.Domain.Scope;

namespace Traceability.Service.Features.Scope;

/// <summary>A page of the members.</summary>
/// <param name="First">The place of its first member among all.</param>
/// <param name="Members">The members.</param>
/// <param name="After">Where the next page begins; null on the last.</param>
internal sealed record ScopePage(int First, ImmutableArray<FoundMember> Members, string? After)
{
    /// <summary>At most so many members after one.</summary>
    public static ScopePage Of(ScopeOutcome outcome, int limit, string? after)
    {
        var first = outcome.FirstAfter(after);
        var members = outcome.Members.Slice(first, Math.Min(limit, outcome.Members.Length - first));
        return new(first, members, first + members.Length == outcome.Members.Length ? null : members[^1].Unit);
    }
}

/// <summary>Units that a record clears.</summary>
/// <param name="Count">How many; null where that isn't counted.</param>
/// <param name="Units">A page of them; null where none was asked for or they aren't counted.</param>
/// <param name="After">Where the next page begins; null on the last.</param>
internal sealed record ScopeCleared(int? Count, ImmutableArray<ClearedUnit>? Units, string? After)
{
    /// <summary>Counts them, and lists at most so many after one.</summary>
    /// <param name="outcome">What was found.</param>
    /// <param name="limit">At most so many; null: none are listed.</param>
    /// <param name="after">Only units after this one.</param>
    /// <param name="cancellation">Stops it.</param>
    public static async ValueTask<ScopeCleared> FindAsync(ScopeOutcome outcome, int? limit, string? after, CancellationToken cancellation)
    {
        if (outcome.Found.Clearing is not { } rules)
        {
            return new(null, null, null);
        }

        string[] members = [.. outcome.Members.Select(m => m.Unit)];
        var count = await outcome.Found.Genealogy.Source.CountClearedAsync(rules, members, cancellation);
        if (limit is not { } most)
        {
            return new(count, null, null);
        }

        var units = await outcome.Found.Genealogy.Source.ClearedAsync(rules, members, after, most + 1, cancellation);
        return new(count, [.. units.Take(most)], units.Count > most ? units[most - 1].Unit : null);
    }
}
