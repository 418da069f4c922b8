namespace Traceability.Domain.Scope;

/// <summary>One way in which a unit became a member: what reached it, and how.</summary>
/// <param name="Suspect">What reached it.</param>
/// <param name="Member">How sure, when, and by which path.</param>
public readonly record struct ScopeWay(SingleSuspect Suspect, ScopeMember Member);

/// <summary>A unit that a suspect, or a combination of suspects, reaches or may have reached.</summary>
/// <remarks>Tens of thousands of these are made for one answer, mostly of one suspect: a value, which then holds only its one way.</remarks>
public readonly record struct FoundMember
{
    private readonly Combination? _combination;

    /// <summary>A member of one suspect.</summary>
    internal FoundMember(ScopeWay way) => Best = way;

    private FoundMember(Combination combination) => (_combination, Best) = (combination, combination.Ways[0]);

    /// <summary>The unit, as item/serial.</summary>
    public string Unit => Best.Member.Unit;

    /// <summary>How sure that is.</summary>
    public ScopeVerdict Verdict => _combination?.Verdict ?? Best.Member.Verdict;

    /// <summary>How sure it is that it is reached now; null: exposed then and clear now.</summary>
    public ScopeVerdict? Now => _combination is { } c ? c.Now : Best.Member.Now;

    /// <summary>From when on, at the earliest; null: always.</summary>
    public DateTimeOffset? From => _combination is { } c ? c.From : Best.Member.From;

    /// <summary>Until when, at the latest; null: until now.</summary>
    public DateTimeOffset? To => _combination is { } c ? c.To : Best.Member.To;

    /// <summary>The first way.</summary>
    public ScopeWay Best { get; }

    /// <summary>What reached it: those first that make it a member together; of several that would each be enough, the surest first.</summary>
    public ImmutableArray<ScopeWay> Ways => _combination?.Ways ?? [Best];

    /// <summary>How many of the ways make it a member together: those at the front.</summary>
    public int Together => _combination?.Together ?? 1;

    /// <summary>What is excepted may have reached it, too: in that case it is no member.</summary>
    public bool MayBeExcepted => _combination?.MayBeExcepted ?? false;

    /// <summary>The same unit, by what is told of it otherwise.</summary>
    internal FoundMember As(Func<Combination, Combination> change) =>
        new(change(_combination ?? new(Verdict, Now, From, To, Ways, Together, MayBeExcepted)));

    /// <summary>What is told of a member of several suspects.</summary>
    internal sealed record Combination(
        ScopeVerdict Verdict,
        ScopeVerdict? Now,
        DateTimeOffset? From,
        DateTimeOffset? To,
        ImmutableArray<ScopeWay> Ways,
        int Together,
        bool MayBeExcepted);
}

/// <summary>Combines what several suspects reach.</summary>
/// <remarks>
/// Each suspect is judged by itself, so what holds of both only together is told with care: of two suspects that might fill one gap,
/// each is possible though both can't be. Membership may be too wide for it, never too narrow; proven may be too careful, never wrong.
/// </remarks>
internal static class ScopeCombination
{
    /// <summary>The members of one suspect.</summary>
    public static ImmutableArray<FoundMember> Of(ScopeResult scope) =>
        ImmutableArray.CreateRange(scope.Members, static (member, suspect) => new FoundMember(new ScopeWay(suspect, member)), scope.Suspect);

    /// <summary>Members of any; the surest counts.</summary>
    public static ImmutableArray<FoundMember> Any(IReadOnlyList<ImmutableArray<FoundMember>> parts)
    {
        if (parts.Count == 1)
        {
            return parts[0];
        }

        var found = new SortedDictionary<string, FoundMember>(StringComparer.Ordinal);
        foreach (var member in parts.SelectMany(p => p))
        {
            found[member.Unit] = found.TryGetValue(member.Unit, out var known) ? Either(known, member) : member;
        }

        return [.. found.Values];
    }

    /// <summary>Members of all; proven if proven in all.</summary>
    public static ImmutableArray<FoundMember> All(IReadOnlyList<ImmutableArray<FoundMember>> parts)
    {
        var found = parts[0];
        foreach (var part in parts.Skip(1))
        {
            var others = part.ToDictionary(m => m.Unit, StringComparer.Ordinal);
            found = [.. found.Where(m => others.ContainsKey(m.Unit)).Select(m => Both(m, others[m.Unit]))];
        }

        return found;
    }

    /// <summary>Members of the one that aren't proven members of the other; proven if they surely aren't its members.</summary>
    public static ImmutableArray<FoundMember> Except(ImmutableArray<FoundMember> of, ImmutableArray<FoundMember> but)
    {
        var others = but.ToDictionary(m => m.Unit, StringComparer.Ordinal);
        return
        [
            .. of.Where(m => !others.TryGetValue(m.Unit, out var other) || other.Verdict != ScopeVerdict.Proven)
                .Select(m => !others.ContainsKey(m.Unit) ? m : m.As(static c => c with
                {
                    Verdict = ScopeVerdict.Possible,
                    Now = c.Now is null ? null : ScopeVerdict.Possible,
                    MayBeExcepted = true,
                })),
        ];
    }

    private static FoundMember Either(FoundMember a, FoundMember b)
    {
        var (best, other) = Rank(b) > Rank(a) ? (b, a) : (a, b);
        return best.As(c => c with
        {
            Now = a.Now == ScopeVerdict.Proven || b.Now == ScopeVerdict.Proven ? ScopeVerdict.Proven : a.Now ?? b.Now,
            From = a.From is null || b.From is null ? null : a.From < b.From ? a.From : b.From,
            To = a.To is null || b.To is null ? null : a.To > b.To ? a.To : b.To,
            Ways = [.. best.Ways, .. other.Ways],
        });
    }

    // From when on both may hold, until one of them surely no longer does. Where the one came after the other, the time of both.
    private static FoundMember Both(FoundMember a, FoundMember b)
    {
        var from = a.From is null || b.From > a.From ? b.From : a.From;
        var to = a.To is null || b.To < a.To ? b.To : a.To;
        if (from >= to)
        {
            from = a.From is null || b.From is null ? null : a.From < b.From ? a.From : b.From;
            to = a.To is not null && b.To is not null && b.To > a.To ? b.To : a.To ?? b.To;
        }

        return a.As(c => c with
        {
            Verdict = a.Verdict == ScopeVerdict.Proven ? b.Verdict : a.Verdict,
            Now = a.Now is null || b.Now is null ? null : a.Now == ScopeVerdict.Proven ? b.Now : a.Now,
            From = from,
            To = to,
            Ways = [.. a.Ways.Take(a.Together), .. b.Ways.Take(b.Together), .. a.Ways.Skip(a.Together), .. b.Ways.Skip(b.Together)],
            Together = a.Together + b.Together,
            MayBeExcepted = a.MayBeExcepted || b.MayBeExcepted,
        });
    }

    private static int Rank(FoundMember member) =>
        (member.Verdict == ScopeVerdict.Proven ? 3 : 0) + member.Now switch { ScopeVerdict.Proven => 2, ScopeVerdict.Possible => 1, _ => 0 };
}
