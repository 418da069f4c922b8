using System.Text.Json.Nodes;

namespace Traceability.Simulator.Plant;

/// <summary>One attempt at a step while it is under way.</summary>
internal sealed class StepWork(string step, string station, string qualification, TimeSpan length)
{
    public string Step { get; } = step;

    public string Station { get; } = station;

    public string Qualification { get; } = qualification;

    public TimeSpan Length { get; } = length;

    /// <summary>The terminal reports the start when it happens; else the completion says when it was.</summary>
    public bool Announces { get; init; }

    public bool IsRework { get; init; }

    /// <summary>The work is done and nobody records it.</summary>
    public bool IsUnrecorded { get; init; }

    /// <summary>Who does it; null: who is on shift.</summary>
    public string? Person { get; set; }

    /// <summary>Who watches over a person who may not do it alone; null: nobody.</summary>
    public string? Supervisor { get; init; }

    /// <summary>Called when the work starts, with its start: materials are taken then.</summary>
    public Action<StepWork>? Begin { get; init; }

    /// <summary>Called when the work is completed, before it is recorded: what was measured is known then.</summary>
    public Action<StepWork>? Finish { get; init; }

    public DateTimeOffset StartedAt { get; set; }

    public DateTimeOffset CompletedAt { get; set; }

    public List<(string Name, DateTimeOffset At)> Marks { get; } = [];

    public JsonArray Materials { get; } = [];

    public JsonArray Tools { get; } = [];

    public JsonArray Measurements { get; } = [];

    public JsonArray Checks { get; } = [];

    public JsonArray Components { get; } = [];

    public JsonArray Defects { get; } = [];

    /// <summary>The record; null until it is sent, or if nobody sends it.</summary>
    public PlantFact? Record { get; set; }

    /// <summary>The members of the completion's body.</summary>
    public JsonObject Members(UnitId unit, Func<DateTimeOffset, string> shown)
    {
        var body = new JsonObject { ["unit"] = Body.Unit(unit), ["step"] = Step };
        if (!Announces)
        {
            body["startedAt"] = shown(StartedAt);
        }

        if (IsRework)
        {
            body["isRework"] = true;
        }

        if (Marks.Count > 0)
        {
            body["marks"] = new JsonArray([.. Marks.Select(m => (JsonNode)new JsonObject { ["name"] = m.Name, ["at"] = shown(m.At) })]);
        }

        Add(body, "materials", Materials);
        Add(body, "tools", Tools);
        Add(body, "measurements", Measurements);
        Add(body, "checks", Checks);
        Add(body, "components", Components);
        Add(body, "defects", Defects);
        if (Supervisor is not null)
        {
            body["supervisor"] = Supervisor;
        }

        return body;
    }

    private static void Add(JsonObject body, string name, JsonArray values)
    {
        if (values.Count > 0)
        {
            body[name] = values.DeepClone();
        }
    }
}
