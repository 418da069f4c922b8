using System.Text.Json;

namespace Traceability.Simulator.Plant;

/// <summary>One fact as a terminal of the plant sends it.</summary>
/// <param name="Id">The id that the sender chose.</param>
/// <param name="Type">The kebab-case type.</param>
/// <param name="Json">The whole body, as sent.</param>
/// <param name="Sender">Who sends it: <see cref="Senders.Engineer"/>, <see cref="Senders.Quality"/>, or a station's code.</param>
/// <param name="Unit">The unit that it is about ("item/serial"); null for a fact about something else.</param>
/// <param name="HappenedAt">When it really happened; the body says this plus <paramref name="ClockError"/>.</param>
/// <param name="SentAt">When it was sent in the plant's time: facts are listed in this order.</param>
/// <param name="ClockError">How far the terminal's clock is ahead; the header Sent-At carries the same error.</param>
/// <param name="After">The fact without which nobody would have sent this one; null: none. What a person decides is about something.</param>
public sealed record PlantFact(
    Guid Id,
    string Type,
    string Json,
    string Sender,
    string? Unit,
    DateTimeOffset HappenedAt,
    DateTimeOffset SentAt,
    TimeSpan ClockError,
    Guid? After = null)
{
    /// <summary>Parses the body.</summary>
    public JsonDocument Parse() => JsonDocument.Parse(Json);
}

/// <summary>Who sends facts, beside the stations.</summary>
public static class Senders
{
    /// <summary>Sends definitions.</summary>
    public const string Engineer = "engineer";

    /// <summary>Sends decisions.</summary>
    public const string Quality = "quality";
}
