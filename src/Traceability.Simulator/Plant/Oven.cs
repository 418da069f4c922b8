using System.Globalization;
using System.Text.Json.Nodes;

namespace Traceability.Simulator.Plant;

/// <summary>The oven, into which housings go as a batch before they have serials. All figures are invented.</summary>
internal sealed class Oven(Floor floor)
{
    public const string Station = "OVEN-1";

    private const int DroppedEvery = 7;

    private readonly SplitMix _random = SplitMix.For(floor.Seed, "oven");
    private int _loads;

    /// <summary>Puts housings together for the oven.</summary>
    /// <param name="at">When.</param>
    /// <param name="isSlow">Somebody will be called away between the first one and the second.</param>
    public OvenLoad Form(DateTimeOffset at, bool isSlow)
    {
        var number = ++_loads;

        // Each seventh load has a housing more, which is dropped and thrown away before it gets a serial.
        return new(floor, _random, string.Create(CultureInfo.InvariantCulture, $"H{number:0000}"), number % DroppedEvery == 3 ? 1 : 0, at) { IsSlow = isSlow };
    }
}

/// <summary>One load of the oven: formed, soaked, taken out one after another, ended.</summary>
internal sealed class OvenLoad(Floor floor, SplitMix random, string name, int dropped, DateTimeOffset formedAt)
{
    /// <summary>How many get a serial.</summary>
    public const int Units = 2;

    // From the oven to the opening of the first one, and from one to the next.
    private static readonly TimeSpan First = TimeSpan.FromSeconds(12);
    private static readonly TimeSpan Next = TimeSpan.FromSeconds(33);
    private static readonly TimeSpan Slow = TimeSpan.FromSeconds(75);

    private readonly TimeSpan _soak = TimeSpan.FromSeconds(random.Int(930, 1500));
    private DateTimeOffset _outAt;

    /// <summary>The number of the batch.</summary>
    public string Name => name;

    /// <summary>Whether a housing was dropped.</summary>
    public bool HasDropped => dropped > 0;

    /// <summary>Somebody is called away between the first one and the second.</summary>
    public bool IsSlow { get; init; }

    /// <summary>The record of the soak; null until then.</summary>
    public PlantFact? Soaked { get; private set; }

    /// <summary>When the housing in that place is taken up.</summary>
    public DateTimeOffset TakenUpAt(int place) => _outAt + First + (place * Next) + (IsSlow && place > 0 ? Slow : TimeSpan.Zero);

    /// <summary>In the oven.</summary>
    public IEnumerable<DateTimeOffset> Soak()
    {
        var length = _soak + TimeSpan.FromSeconds(30);
        var start = floor.Calendar.Fit(formedAt + TimeSpan.FromMinutes(2), TimeSpan.FromMinutes(60));
        var person = MasterData.Crew("DRIVES", floor.Calendar.IsLateShift(start));
        var formed = Send("batch-formed", formedAt, person, _ => new() { ["count"] = Units + dropped }, null);
        yield return start;
        var began = Send("batch-step-started", start, person, _ => new() { ["step"] = "OVEN" }, formed);
        yield return start + length;
        var inAt = start.AddSeconds(20);
        _outAt = inAt + _soak;

        // The oven's own display is in degrees Fahrenheit; the limits are in degrees Celsius.
        Soaked = Send("batch-step-completed", start + length, person, shown => new()
        {
            ["step"] = "OVEN",
            ["marks"] = Body.List(Mark("OVEN-IN", shown(inAt)), Mark("OVEN-OUT", shown(_outAt))),
            ["tools"] = Body.List(Body.Tool("OV-1")),
            ["measurements"] = Body.List(Body.Measurement("TEMPERATURE", random.Bell(450m, 2.5m, 0), "[degF]")),
        }, began);
    }

    /// <summary>Nothing is left of it.</summary>
    public IEnumerable<DateTimeOffset> End()
    {
        var at = TakenUpAt(Units - 1).AddMinutes(10);
        yield return at;
        Send("batch-ended", at, MasterData.Crew("DRIVES", floor.Calendar.IsLateShift(at)), _ => dropped > 0 ? new() { ["scrapped"] = dropped } : [], Soaked);
    }

    private static JsonObject Mark(string mark, string at) => new() { ["name"] = mark, ["at"] = at };

    private PlantFact Send(string type, DateTimeOffset at, string person, Func<Func<DateTimeOffset, string>, JsonObject> members, PlantFact? after) =>
        floor.Ledger.Send(random.Id(), type, at, Oven.Station, Oven.Station, person, shown =>
        {
            var body = members(shown);
            body.Insert(0, "batch", new JsonObject { ["item"] = "DR-2", ["batch"] = name });
            return body;
        }, after: after?.Id);
}
