using System.Collections.Immutable;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;

namespace Traceability.Testing.Scope;

/// <summary>A small made-up history: what truly happened, and what the records say of it.</summary>
/// <remarks>
/// All times are whole minutes in [0, <see cref="Now"/>), few enough that most comparisons meet their limit.
/// Records may be incomplete and undecided, never false: what they name is so.
/// </remarks>
public sealed class RandomGenealogy
{
    /// <summary>The minute after the last.</summary>
    public const int Now = 12;

    /// <summary>Minute zero.</summary>
    public static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    private readonly MadeLots _made;

    internal RandomGenealogy(SuspectFactor factor, Lot lot, MadeLots made, ImmutableArray<UnitJudgement> records, ImmutableDictionary<string, bool[]> truth)
    {
        Factor = factor;
        Lot = lot;
        _made = made;
        Records = records;
        Truth = truth;
    }

    /// <summary>What is suspected.</summary>
    public SuspectFactor Factor { get; }

    /// <summary>Its lot's facts.</summary>
    public Lot Lot { get; }

    /// <summary>The lots that were made of it and others, by name.</summary>
    public ImmutableDictionary<LotKey, Lot> Lots => _made.Lots;

    /// <summary>Whether the lot may hold material of the suspect at that minute, and whether it may hold other material.</summary>
    public (bool Suspect, bool Other) Share(LotKey lot, int minute) => _made.Share(lot, minute);

    /// <summary>The lots that carry its material, by the records.</summary>
    public ImmutableArray<LotCarrier> Carriers => LotCarrier.Of(Factor, Lots);

    /// <summary>What the records say.</summary>
    public ImmutableArray<UnitJudgement> Records { get; }

    /// <summary>For each unit and minute, whether it truly carried the suspect.</summary>
    public ImmutableDictionary<string, bool[]> Truth { get; }

    /// <summary>Where and when the suspect could have been used, by the records.</summary>
    public LotPresence Presence => LotPresence.Of(Factor, Lot);

    /// <summary>The time of a minute.</summary>
    public static DateTimeOffset At(int minute) => Start.AddMinutes(minute);

    /// <summary>The minute of a time.</summary>
    public static int MinuteOf(DateTimeOffset at) => (int)(at - Start).TotalMinutes;

    /// <summary>Makes a history from choices; the same choices make the same history, and small ones a simple one.</summary>
    /// <param name="choices">Numbers of any size; used up in order, then zero.</param>
    /// <param name="holesMax">At most so many records are incomplete or undecided.</param>
    public static RandomGenealogy From(IReadOnlyList<int> choices, int holesMax) => new GenealogyMaker(choices, holesMax).Make();

    /// <inheritdoc />
    public override string ToString()
    {
        var lines = new List<string> { $"suspect: {Factor}; presence: {Presence.Doubt} {string.Join(" ", Presence.Windows.Select(Say))}" };
        lines.AddRange(Lots.Values.SelectMany(l => l.Effective.Select(f => $"{l.Key} at {Minute(f.At)}: {f.Fact}")));
        lines.AddRange(Carriers.Select(c => $"carrier {c.Lot} from {c.CarriesFrom:T}, wholly until {c.WhollyUntil:T}"));
        foreach (var unit in Records)
        {
            lines.Add($"{unit.Unit} opened {Minute(unit.Status.OpenedAt)} {unit.Status.Place} since {Minute(unit.Status.Since)}");
            lines.AddRange(unit.Usages.Select(u => $"  used {u.Lot} {u.Container} {(u.IsOneOf ? "one of" : string.Empty)} [{Minute(u.From)}, {Minute(u.To)}] at {u.Station}"));
            lines.AddRange(unit.Gaps.Select(g => $"  gap {g.Kind} {g.Reason} {string.Join("|", g.Items)} {g.Lot} [{Minute(g.From)}, {Minute(g.To)}] at {g.Station}"));
            lines.AddRange(unit.Installations.Select(i => $"  holds {i.Component} [{Minute(i.From)}, {Minute(i.To)}) +-{i.Uncertainty.TotalMinutes}"));
        }

        return string.Join("\n", lines);

        static string Minute(DateTimeOffset? at) => at is { } t ? $"{MinuteOf(t)}" : "-";
        static string Say(PresenceWindow w) =>
            $"[{(w.From == DateTimeOffset.MinValue ? "-" : Minute(w.From))}, {(w.To == DateTimeOffset.MaxValue ? "-" : Minute(w.To))}]@{string.Join("|", w.Stations)}";
    }
}
