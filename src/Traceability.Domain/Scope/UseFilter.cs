using Traceability.Domain.Primitives;

namespace Traceability.Domain.Scope;

/// <summary>Narrows what is suspected to uses in a time, at a step, at a station.</summary>
/// <remarks>
/// What isn't recorded never narrows: a use whose step or station isn't known stays possible. A use that lies inside the time fits;
/// one that may have been before or after it is possible.
/// </remarks>
/// <param name="From">From here on; null: always.</param>
/// <param name="To">Before this; null: until now.</param>
/// <param name="Step">At this step; null: any.</param>
/// <param name="Station">At this station; null: any.</param>
public sealed record UseFilter(DateTimeOffset? From, DateTimeOffset? To, StepCode? Step, StationCode? Station)
{
    /// <summary>Lets everything through.</summary>
    public static UseFilter None { get; } = new(null, null, null, null);

    /// <summary>Whether it lets everything through.</summary>
    public bool IsNone => From is null && To is null && Step is null && Station is null;

    /// <summary>How sure it is that a use fits; null if it can't.</summary>
    /// <param name="from">The earliest time of use.</param>
    /// <param name="to">The latest; null: until now.</param>
    /// <param name="step">The step; null: not known.</param>
    /// <param name="station">The station; null: not known.</param>
    public ScopeVerdict? Share(DateTimeOffset from, DateTimeOffset? to, string? step, string? station)
    {
        if (IsNone)
        {
            return ScopeVerdict.Proven;
        }

        if ((Step is { } s && step is not null && !string.Equals(s.Value, step, StringComparison.Ordinal))
            || (Station is { } at && station is not null && !string.Equals(at.Value, station, StringComparison.Ordinal))
            || (From is { } begin && to is { } latest && latest < begin)
            || (To is { } end && from >= end))
        {
            return null;
        }

        return (Step is null || step is not null)
            && (Station is null || station is not null)
            && (From is not { } first || from >= first)
            && (To is not { } last || to < last)
            ? ScopeVerdict.Proven
            : ScopeVerdict.Possible;
    }

    /// <summary>The earliest time of a use that fits.</summary>
    public DateTimeOffset Earliest(DateTimeOffset from) => From is { } begin && begin > from ? begin : from;

    /// <summary>The latest time of a use that fits; null: until now.</summary>
    public DateTimeOffset? Latest(DateTimeOffset? to) => To is { } end && (to is not { } latest || latest >= end) ? end.AddTicks(-1) : to;

    /// <summary>In words, with a space in front; empty for none.</summary>
    public override string ToString()
    {
        var words = new System.Text.StringBuilder();
        Append(Step is { } step ? $"at step {step}" : null);
        Append(Station is { } station ? $"at station {station}" : null);
        Append(From is { } from ? $"from {ScopeWords.Time(from)} on" : null);
        Append(To is { } to ? $"before {ScopeWords.Time(to)}" : null);
        return words.ToString();

        void Append(string? part) => words.Append(part is null ? string.Empty : " ").Append(part);
    }
}
