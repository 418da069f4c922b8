using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;

namespace Traceability.Domain.Narrowing;

/// <summary>By what an alternative narrows a suspect.</summary>
public enum NarrowedBy
{
    /// <summary>As the asker said.</summary>
    Asker,

    /// <summary>One container of the lot.</summary>
    Container,

    /// <summary>A part of the time.</summary>
    Time,

    /// <summary>One station.</summary>
    Station,

    /// <summary>One step.</summary>
    Step,
}

/// <summary>A narrower question.</summary>
/// <param name="By">By what it narrows.</param>
/// <param name="Name">A name for a person.</param>
/// <param name="Suspect">The suspect.</param>
public sealed record Alternative(NarrowedBy By, string Name, Suspect Suspect);

/// <summary>What a row of evidence at the end of a way says of a use.</summary>
/// <param name="At">When, at the earliest.</param>
/// <param name="Step">The step; null: not known.</param>
/// <param name="Station">The station; null: not known.</param>
/// <param name="Container">The container; null: not known.</param>
public readonly record struct UseSeen(DateTimeOffset At, string? Step, string? Station, string? Container);

/// <summary>Proposes how a suspect could be narrowed, by what its uses differ in.</summary>
public static class Alternatives
{
    /// <summary>The most alternatives of one kind.</summary>
    public const int EachMax = 12;

    /// <summary>Into how many parts of about as many uses each the time is cut.</summary>
    public const int TimeParts = 4;

    private static readonly TimeSpan Shift = TimeSpan.FromHours(8);
    private static readonly TimeSpan Day = TimeSpan.FromDays(1);

    /// <summary>
    /// One for each container, station and step that uses name, most uses first, where they name more than one; and parts of the time, cut
    /// at days or shifts of eight hours (UTC), that together are the whole time. None for a combination, or a component.
    /// </summary>
    public static ImmutableArray<Alternative> Propose(Suspect suspect, IReadOnlyCollection<UseSeen> uses)
    {
        ArgumentNullException.ThrowIfNull(uses);
        if (suspect is not SingleSuspect single || suspect is SuspectComponent)
        {
            return [];
        }

        var found = ImmutableArray.CreateBuilder<Alternative>();
        if (single is SuspectLot lot)
        {
            Add(NarrowedBy.Container, u => u.Container, c => new SuspectContainer(lot.Lot, ContainerNumber.Parse(c)) { Filter = lot.Filter }, c => $"container {c}");
        }

        foreach (var (from, to) in Windows(single.Filter, [.. uses.Select(u => u.At).Order()]))
        {
            var filter = single.Filter with { From = from, To = to };
            found.Add(new(NarrowedBy.Time, (UseFilter.None with { From = from, To = to }).ToString().Trim(), single with { Filter = filter }));
        }

        if (single.Filter.Station is null)
        {
            Add(NarrowedBy.Station, u => u.Station, s => single with { Filter = single.Filter with { Station = StationCode.Parse(s) } }, s => $"station {s}");
        }

        if (single.Filter.Step is null)
        {
            Add(NarrowedBy.Step, u => u.Step, s => single with { Filter = single.Filter with { Step = StepCode.Parse(s) } }, s => $"step {s}");
        }

        return found.DrainToImmutable();

        void Add(NarrowedBy by, Func<UseSeen, string?> value, Func<string, Suspect> make, Func<string, string> name)
        {
            var values = uses.Select(value).OfType<string>().GroupBy(v => v, StringComparer.Ordinal)
                .OrderByDescending(g => g.Count()).ThenBy(g => g.Key, StringComparer.Ordinal).Select(g => g.Key).ToList();
            if (values.Count > 1)
            {
                found.AddRange(values.Take(EachMax).Select(v => new Alternative(by, name(v), make(v))));
            }
        }
    }

    /// <summary>Parts of the time that meet without a gap, the first without a begin and the last without an end; none if there is nothing to cut.</summary>
    private static IEnumerable<(DateTimeOffset? From, DateTimeOffset? To)> Windows(UseFilter filter, DateTimeOffset[] times)
    {
        if (times.Length < TimeParts)
        {
            yield break;
        }

        var grid = times[^1] - times[0] >= Day * TimeParts ? Day : times[^1] - times[0] >= Shift ? Shift : TimeSpan.FromHours(1);
        var cuts = Enumerable.Range(1, TimeParts - 1)
            .Select(i => Floor(times[i * times.Length / TimeParts], grid))
            .Where(c => c > times[0] && !(c <= filter.From) && !(c >= filter.To))
            .Distinct().ToList();
        for (var i = 0; i <= cuts.Count && cuts.Count > 0; i++)
        {
            yield return (i == 0 ? filter.From : cuts[i - 1], i == cuts.Count ? filter.To : cuts[i]);
        }
    }

    private static DateTimeOffset Floor(DateTimeOffset at, TimeSpan grid) => new(at.UtcTicks - (at.UtcTicks % grid.Ticks), TimeSpan.Zero);
}
