using System.Globalization;

namespace Traceability.Client;

/// <summary>What a request says of the clock that its facts' times were read off (header Sent-At).</summary>
/// <param name="IsSaid">False: nothing is said, and the service takes the times as uncertain.</param>
/// <param name="Ahead">How far that clock is ahead of the terminal's clock as it is now; zero unless the clock was changed meanwhile.</param>
public readonly record struct RequestClock(bool IsSaid, TimeSpan Ahead)
{
    /// <summary>The terminal's clock as it is: what everybody uses who sends at once.</summary>
    public static readonly RequestClock Own = new(true, TimeSpan.Zero);

    /// <summary>Nothing is known of that clock.</summary>
    public static readonly RequestClock Unsaid = new(false, TimeSpan.Zero);

    /// <summary>The header's text at this moment of the terminal's clock; null if nothing is said.</summary>
    internal string? HeaderAt(DateTimeOffset now) =>
        IsSaid ? (now + Ahead).ToString("yyyy-MM-dd'T'HH:mm:ss.fffzzz", CultureInfo.InvariantCulture) : null;
}
