using System.Text.Json.Nodes;

namespace Traceability.Simulator.Plant;

/// <summary>Collects what the terminals send, each with its own clock and its own delay.</summary>
internal sealed class Ledger(PlantCalendar calendar)
{
    private readonly List<PlantFact> _facts = [];

    /// <summary>Terminals that were offline or off, by station: from when to when, how late they sent, how far off they were.</summary>
    public List<TerminalTrouble> Terminals { get; } = [];

    /// <summary>All facts, sent by the end of the simulation, in the order in which they were sent.</summary>
    public IReadOnlyList<PlantFact> InOrder() => [.. _facts.Where(f => f.SentAt <= calendar.Now).OrderBy(f => f.SentAt)];

    /// <summary>Sends a fact; gives it back with its body.</summary>
    /// <param name="id">The id that the sender chose.</param>
    /// <param name="type">The kebab-case type.</param>
    /// <param name="at">When it really happened.</param>
    /// <param name="sender">A station, or one of <see cref="Senders"/>.</param>
    /// <param name="station">The station that the fact names; null for none.</param>
    /// <param name="person">The person that it names; null for none.</param>
    /// <param name="members">The rest of the body; its times are added by a function of the terminal's clock.</param>
    /// <param name="unit">The unit that it is about, if any.</param>
    /// <param name="after">The fact without which nobody would have sent this one, if any.</param>
    public PlantFact Send(
        Guid id,
        string type,
        DateTimeOffset at,
        string sender,
        string? station,
        string? person,
        Func<Func<DateTimeOffset, string>, JsonObject> members,
        UnitId? unit = null,
        Guid? after = null)
    {
        var trouble = Terminals.FirstOrDefault(t => t.Station == sender && at >= t.From && at < t.Until);
        var error = trouble?.ClockError ?? TimeSpan.Zero;
        string Shown(DateTimeOffset time) => Body.Time(calendar.Local(time + error));

        var body = new JsonObject { ["factId"] = id, ["type"] = type, ["occurredAt"] = Shown(at) };
        if (station is not null)
        {
            body["station"] = station;
        }

        if (person is not null)
        {
            body["person"] = person;
        }

        foreach (var (name, value) in members(Shown).ToArray())
        {
            body[name] = value?.DeepClone();
        }

        var sent = at + (trouble?.Delay ?? TimeSpan.Zero);
        var fact = new PlantFact(id, type, Body.Write(body), sender, unit?.ToString(), at, sent, error, after);
        _facts.Add(fact);
        return fact;
    }
}

/// <summary>A terminal that was offline with its clock off.</summary>
/// <param name="Station">Its station.</param>
/// <param name="From">From when.</param>
/// <param name="Until">Until when.</param>
/// <param name="Delay">How late it sent what happened then.</param>
/// <param name="ClockError">How far its clock was ahead.</param>
internal sealed record TerminalTrouble(string Station, DateTimeOffset From, DateTimeOffset Until, TimeSpan Delay, TimeSpan ClockError);
