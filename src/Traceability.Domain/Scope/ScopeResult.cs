namespace Traceability.Domain.Scope;

/// <summary>The reach of one suspect.</summary>
public class ScopeResult
{
    private readonly Genealogy _genealogy;

    internal ScopeResult(SingleSuspect suspect, bool isNamed, ImmutableArray<ScopeMember> members, Genealogy genealogy)
    {
        Suspect = suspect;
        IsNamed = isNamed;
        Members = members;
        _genealogy = genealogy;
    }

    /// <summary>The suspect.</summary>
    public SingleSuspect Suspect { get; }

    /// <summary>Whether some record names the suspect.</summary>
    public bool IsNamed { get; }

    /// <summary>The units, ordered by name (ordinal).</summary>
    public ImmutableArray<ScopeMember> Members { get; }

    /// <summary>Finds where each member is now: the outermost unit that it is inside of, and where that one stands.</summary>
    /// <returns>One for each of <see cref="Members"/>, in their order.</returns>
    public ValueTask<ImmutableArray<Whereabouts>> LocateAsync(CancellationToken cancellation) =>
        _genealogy.LocateAsync([.. Members.Select(m => m.Unit)], cancellation);
}

/// <summary>The reach of a lot or a container.</summary>
public sealed class LotScopeResult : ScopeResult
{
    internal LotScopeResult(
        SuspectFactor factor, LotPresence presence, DirectRows direct, bool isNamed, ImmutableArray<ScopeMember> members, Genealogy genealogy)
        : base(factor, isNamed, members, genealogy)
    {
        Factor = factor;
        Presence = presence;
        Direct = direct;
    }

    /// <summary>The suspect.</summary>
    public SuspectFactor Factor { get; }

    /// <summary>When and where it could have been used.</summary>
    public LotPresence Presence { get; }

    /// <summary>Whether some record names the suspect's lot.</summary>
    public bool IsLotNamed => Direct.Usages.Count > 0;

    /// <summary>The rows that tell of the lot itself, in an order of their own.</summary>
    public DirectRows Direct { get; }

    /// <summary>What clears a unit.</summary>
    public ClearingRule Clearing => new(Factor, Presence);
}
