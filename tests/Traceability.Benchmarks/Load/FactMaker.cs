using System.Text.Encodings.Web;
using System.Text.Json;

namespace Traceability.Benchmarks.Load;

/// <summary>A fact as JSON, with its id.</summary>
internal sealed record MadeFact(string Id, string Json);

/// <summary>Makes the facts of an invented line: lamps of ten steps, each with a lot, a tool and two measurements.</summary>
/// <remarks>Seeded. Every twentieth unit has one torque outside its limits, so findings are written too.</remarks>
internal sealed class FactMaker
{
    public const int Steps = 10;
    public const string Item = "LAMP-4";
    private const int Stations = 10;
    private static readonly JsonSerializerOptions Json = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };
    private readonly Random _random;
    private readonly DateTimeOffset _start;
    private int _units;

    public FactMaker(int seed, DateTimeOffset now)
    {
        _random = new(seed);
        _start = now.AddDays(-2);
    }

    /// <summary>The definitions that the facts rest on, in order.</summary>
    public IEnumerable<MadeFact> Definitions()
    {
        yield return Fact("site-defined", ("site", "MAIN"), ("description", "Works"), ("timeZone", "Europe/Lisbon"));
        yield return Fact("item-defined", ("item", Item), ("kind", "product"), ("description", "Hand lamp"));
        yield return Fact("item-defined", ("item", "ADH-1"), ("kind", "consumable"), ("description", "Adhesive"));
        for (var i = 0; i < Stations; i++)
        {
            yield return Fact("station-defined", ("subject", Name("ST", i)), ("site", "MAIN"), ("description", "Bench"));
            yield return Fact("person-defined", ("subject", Name("P", i)), ("displayName", Name("P", i)));
            yield return Fact("tool-defined", ("tool", Name("SD", i)), ("toolClass", "SCREWDRIVER"), ("description", "Screwdriver"), ("needsCalibration", true));
            yield return Fact("tool-calibrated", ("tool", Name("SD", i)), ("foundGood", true), ("leftGood", true), ("validUntil", Time(400 * 86400)));
            yield return Fact("lot-received", ("lot", new { item = "ADH-1", lot = Name("L", i) }), ("isReleased", true), ("quantity", new { value = 5000, unit = "g" }));
        }

        yield return Fact("routing-drafted", ("revision", new
        {
            item = Item,
            revision = "A",
            description = "First",
            steps = Enumerable.Range(0, Steps).Select(Step).ToArray(),
            intervals = new[]
            {
                new
                {
                    code = "CURE",
                    name = "Cure",
                    from = new { step = Name("S", 2), kind = "completed" },
                    to = new { step = Name("S", 4), kind = "started" },
                    minimum = "PT1M",
                },
            },
        }));
        yield return Fact("routing-released", ("item", Item), ("revision", "A"));
    }

    /// <summary>A new unit: its opening and its steps.</summary>
    public (MadeFact Opened, MadeFact[] Steps) Unit()
    {
        var number = _units++;
        var serial = (100_000_000 + (number * 7)).ToString(CultureInfo.InvariantCulture);
        var unit = new { item = Item, serial };
        var begin = 3600 + (number % 100_000);
        var opened = Fact("unit-opened", ("unit", unit), ("station", Name("ST", 0)), ("person", Name("P", 0)), ("occurredAt", Time(begin)));
        var steps = new MadeFact[Steps];
        for (var i = 0; i < Steps; i++)
        {
            var torque = number % 20 == 7 && i == 5 ? 1.9m : 1.15m + (_random.Next(100) / 1000m);
            steps[i] = Fact(
                "step-completed",
                ("occurredAt", Time(begin + (i * 120) + 100)),
                ("station", Name("ST", i)),
                ("person", Name("P", (number + i) % Stations)),
                ("unit", unit),
                ("step", Name("S", i)),
                ("startedAt", Time(begin + (i * 120) + 20)),
                ("materials", new[] { new { item = "ADH-1", lots = new[] { Name("L", number % Stations) }, quantity = new { value = 0.42m, unit = "g" }, requirement = "BOND" } }),
                ("tools", new[] { new { tool = Name("SD", i), setting = "5", requirement = "DRIVE" } }),
                ("measurements", new object[]
                {
                    new { characteristic = "TORQUE", value = torque, unit = "N.m" },
                    new { characteristic = "GAP", value = 0.300m + (_random.Next(50) / 1000m), unit = "mm" },
                }));
        }

        return (opened, steps);
    }

    private static object Step(int i) => new
    {
        code = Name("S", i),
        name = "Step",
        prerequisites = i == 0 ? [] : new[] { Name("S", i - 1) },
        materials = new[] { new { code = "BOND", item = "ADH-1", tracing = "lot" } },
        tools = new[] { new { code = "DRIVE", toolClass = "SCREWDRIVER", setting = "5" } },
        characteristics = new[]
        {
            new { code = "TORQUE", name = "Torque", unit = "N.m", lower = new { constant = 1.0m }, upper = new { constant = 1.5m } },
            new { code = "GAP", name = "Gap", unit = "mm", lower = new { constant = 0.2m }, upper = new { constant = 0.4m } },
        },
    };

    private static string Name(string prefix, int i) => $"{prefix}-{i.ToString("D2", CultureInfo.InvariantCulture)}";

    private string Time(int second) => _start.AddSeconds(second).ToString("yyyy-MM-ddTHH:mm:ss.fffzzz", CultureInfo.InvariantCulture);

    private MadeFact Fact(string type, params (string Name, object Value)[] members)
    {
        Span<byte> bytes = stackalloc byte[16];
        _random.NextBytes(bytes);
        var id = new Guid(bytes).ToString();
        var fact = new Dictionary<string, object>(StringComparer.Ordinal) { ["factId"] = id, ["type"] = type, ["occurredAt"] = Time(0) };
        foreach (var (name, value) in members)
        {
            fact[name] = value;
        }

        return new(id, JsonSerializer.Serialize(fact, Json));
    }
}
