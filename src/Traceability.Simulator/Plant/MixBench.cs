using System.Globalization;
using System.Text.Json.Nodes;

namespace Traceability.Simulator.Plant;

/// <summary>A pot of the compound as it really was mixed.</summary>
/// <param name="Lot">The number that it got.</param>
/// <param name="MixedAt">When.</param>
/// <param name="Resin">What went in of the one part.</param>
/// <param name="Hardener">What went in of the other.</param>
internal sealed record Pot(string Lot, DateTimeOffset MixedAt, Taken Resin, Taken Hardener)
{
    /// <summary>With too much hardener.</summary>
    public bool IsOff { get; init; }

    /// <summary>Nobody wrote down how much hardener.</summary>
    public bool IsUnweighed { get; init; }

    /// <summary>Until when it can be used.</summary>
    public DateTimeOffset GoodUntil { get; init; }

    /// <summary>How much of it is left, in grams.</summary>
    public decimal Left { get; set; }

    /// <summary>How often it was taken from.</summary>
    public int Uses { get; set; }
}

/// <summary>The benches where a compound of two parts is mixed, pot after pot, for whoever needs some of it. Every figure is invented.</summary>
internal sealed class MixBench(Floor floor)
{
    /// <summary>The compound, and what it is mixed of.</summary>
    public const string Item = "PM-2", Resin = "RS-1", Hardener = "HA-1";

    private const decimal ResinGrams = 30m;
    private const decimal HardenerGrams = 15m;
    private const decimal HardenerGramsOff = 18m;
    private const int UsesMax = 3;

    /// <summary>How long a pot lasts, by temperature in Cel.</summary>
    public static readonly (decimal Celsius, int Minutes)[] Table = [(10m, 300), (16m, 220), (22m, 150), (30m, 80)];

    // A careful person leaves what is nearly over.
    private static readonly TimeSpan Margin = TimeSpan.FromMinutes(15);

    private readonly SplitMix _random = SplitMix.For(floor.Seed, "mix-bench");
    private int _number;

    /// <summary>The pot that stands there; null: none yet.</summary>
    public Pot? Standing { get; private set; }

    /// <summary>The mix as a part of the item's definition.</summary>
    public static JsonObject Mix() => new()
    {
        ["mix"] = new JsonObject
        {
            ["parts"] = Body.List(
                new JsonObject { ["item"] = Resin, ["amount"] = Body.Quantity(100m, "g") },
                new JsonObject { ["item"] = Hardener, ["amount"] = Body.Quantity(50m, "g") }),
            ["tolerance"] = 0.05m,
        },
        ["potLife"] = "PT2H30M",
        ["potLifeByTemperature"] = new JsonObject
        {
            ["rows"] = new JsonArray([.. Table.Select(r => (JsonNode)new JsonObject
            {
                ["temperature"] = Body.Quantity(r.Celsius, "Cel"), ["time"] = string.Create(CultureInfo.InvariantCulture, $"PT{r.Minutes}M"),
            })]),
            ["readingGapMax"] = "PT30M",
        },
    };

    /// <summary>A pot that is good for a piece of work: the one that stands there, or a new one.</summary>
    /// <param name="work">The work, as it starts.</param>
    /// <param name="isOff">A new one, with too much hardener.</param>
    /// <param name="isUnweighed">A new one, of which nobody writes down how much hardener went in.</param>
    public Pot For(StepWork work, bool isOff, bool isUnweighed) =>
        Standing is { Uses: < UsesMax } pot && work.StartedAt + work.Length + Margin < pot.GoodUntil && !isOff && !isUnweighed
            ? pot
            : Make(work, isOff, isUnweighed);

    private Pot Make(StepWork work, bool isOff, bool isUnweighed)
    {
        var mixedAt = work.StartedAt.AddMinutes(-_random.Int(3, 6));
        ThrowAway(mixedAt.AddMinutes(-1), work.Station);
        var pot = new Pot(string.Create(CultureInfo.InvariantCulture, $"P{++_number:0000}"), mixedAt, floor.Shelf(Resin).Take(mixedAt), floor.Shelf(Hardener).Take(mixedAt))
        {
            IsOff = isOff,
            IsUnweighed = isUnweighed,
            GoodUntil = mixedAt + floor.Climate.Needed(mixedAt, Table),
            Left = ResinGrams + HardenerGrams,
        };
        floor.Ledger.Send(_random.Id(), "lot-mixed", mixedAt, work.Station, work.Station, work.Person, _ => new()
        {
            ["lot"] = Body.Lot(Item, pot.Lot),
            ["parts"] = Body.List(
                Part(Resin, pot.Resin, ResinGrams), Part(Hardener, pot.Hardener, isUnweighed ? null : isOff ? HardenerGramsOff : HardenerGrams)),
            ["stations"] = Body.Texts(Climate.Places),
        });
        return Standing = pot;
    }

    private static JsonObject Part(string item, Taken taken, decimal? grams)
    {
        var part = new JsonObject { ["lot"] = Body.Lot(item, taken.Lot), ["container"] = taken.Container };
        if (grams is { } value)
        {
            part["quantity"] = Body.Quantity(value, "g");
        }

        return part;
    }

    // What is left of the pot before is thrown away and weighed.
    private void ThrowAway(DateTimeOffset at, string station)
    {
        if (Standing is { } pot)
        {
            floor.Ledger.Send(_random.Id(), "lot-emptied", at, station, station, null, _ => new()
            {
                ["lot"] = Body.Lot(Item, pot.Lot), ["discarded"] = Body.Quantity(pot.Left + (pot.IsOff ? HardenerGramsOff - HardenerGrams : 0m), "g"),
            });
        }
    }
}
