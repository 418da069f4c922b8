using System.ComponentModel.DataAnnotations;
using System.Globalization;
using Microsoft.Extensions.Options;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Ingest;

/// <summary>How terminals' clocks are treated. Bound from "Clock" and checked when the service starts.</summary>
public sealed class ClockOptions
{
    /// <summary>Name of the configuration section.</summary>
    public const string SectionName = "Clock";

    /// <summary>Gets or sets the offset up to which a terminal's clock counts as right; also the uncertainty of a time read off a measured clock.</summary>
    /// <value>Default 2 s, which covers the way of a request; at least 0.1 s, at most 1 minute.</value>
    [Range(typeof(TimeSpan), "00:00:00.1", "00:01:00")]
    public TimeSpan Tolerance { get; set; } = TimeSpan.FromSeconds(2);

    /// <summary>Gets or sets the offset beyond which a clock is doubtful: since when it was off isn't known, so a time may be off by all of it.</summary>
    /// <value>Default 1 minute; at least 1 s, at most 1 hour.</value>
    [Range(typeof(TimeSpan), "00:00:01", "01:00:00")]
    public TimeSpan Bound { get; set; } = TimeSpan.FromMinutes(1);

    /// <summary>Gets or sets the uncertainty of a time whose clock wasn't measured, since the request did not say what its clock showed.</summary>
    /// <value>Default 1 minute; at least 1 s, at most 1 day.</value>
    [Range(typeof(TimeSpan), "00:00:01", "1.00:00:00")]
    public TimeSpan UnmeasuredUncertainty { get; set; } = TimeSpan.FromMinutes(1);
}

/// <summary>Measures a terminal's clock by what it showed when it sent a request.</summary>
internal sealed class TerminalClock(TimeProvider clock, IOptions<ClockOptions> options)
{
    /// <summary>The header in which a terminal says what its clock shows: RFC 3339, with offset.</summary>
    public const string Header = "Sent-At";

    /// <summary>Reads the header; false with a refusal if it is there and can't be read.</summary>
    public bool TryRead(HttpRequest request, out ClockReading reading, out Refusal? refusal)
    {
        refusal = null;
        reading = new(TimeSpan.Zero, options.Value.UnmeasuredUncertainty, Doubtful: false);
        if (!request.Headers.TryGetValue(Header, out var values))
        {
            return true;
        }

        // Without an offset from UTC the time would silently be taken for the server's own.
        var text = values.ToString();
        if (!DateTimeOffset.TryParse(text, CultureInfo.InvariantCulture, DateTimeStyles.None, out var sentAt) || !HasOffset(text))
        {
            refusal = Refusal.At("sent-at-invalid", RefusalKind.Malformed, Header, $"The header {Header} is the terminal's time in RFC 3339 with offset, such as 2026-03-01T08:00:00.000Z, not '{text}'.");
            return false;
        }

        reading = Measure(clock.GetUtcNow() - sentAt);
        return true;
    }

    /// <summary>A refusal if the fact lies in the future even when its clock is allowed for.</summary>
    public Refusal? CheckFuture(Fact fact)
    {
        var latest = clock.GetUtcNow() + fact.Clock.Uncertainty;
        return fact.At > latest
            ? Refusal.At("occurred-in-future", RefusalKind.Malformed, "/occurredAt", $"{fact.OccurredAt:O} is in the future. Correct the terminal's clock and send again, or send the header {Header} so that its error can be measured.")
            : null;
    }

    /// <summary>What an offset (service's time less terminal's time) says.</summary>
    public ClockReading Measure(TimeSpan offset)
    {
        var size = offset.Duration();
        if (size <= options.Value.Tolerance)
        {
            return new(TimeSpan.Zero, options.Value.Tolerance, Doubtful: false);
        }

        // The request's own way takes part of a second, so finer digits would only be noise.
        var rounded = TimeSpan.FromSeconds(Math.Round(offset.TotalSeconds));
        return size <= options.Value.Bound
            ? new(rounded, options.Value.Tolerance, Doubtful: false)
            : new(rounded, rounded.Duration(), Doubtful: true);
    }

    private static bool HasOffset(string text) =>
        text.EndsWith('Z') || text.EndsWith('z') || (text.Length > 6 && text[^6] is '+' or '-' && text[^3] == ':');
}
