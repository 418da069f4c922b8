namespace Traceability.Simulator.Truth;

/// <summary>What the recomputation says about a plant, in the shape of the questions that the service answers.</summary>
public sealed class PlantAnswers
{
    private static readonly string[] IntervalKinds =
        ["interval-too-short", "interval-too-long", "interval-undetermined", "interval-start-not-recorded"];

    private readonly FactBook _book;

    private readonly IReadOnlyDictionary<string, UnitPast> _pasts;

    internal PlantAnswers(DateTimeOffset now, FactBook book, IReadOnlyDictionary<string, UnitPast> pasts, IReadOnlyDictionary<string, UnitAnswer> units)
    {
        Now = now;
        _book = book;
        _pasts = pasts;
        Units = units;
    }

    /// <summary>The moment at which open intervals are judged.</summary>
    public DateTimeOffset Now { get; }

    /// <summary>Every unit, by "item/serial".</summary>
    public IReadOnlyDictionary<string, UnitAnswer> Units { get; }

    /// <summary>Every lot that came in.</summary>
    public IReadOnlyList<(string Item, string Lot)> Lots => [.. _book.Lots.Select(l => (l.Split('/')[0], l.Split('/')[1]))];

    /// <summary>Every opened container of a lot.</summary>
    public IReadOnlyList<string> ContainersOf(string item, string lot) =>
        [.. _book.OfLot($"{item}/{lot}").Where(f => f.Type == "container-opened").Select(f => Json.Text(f.Body, "container")!).Distinct(StringComparer.Ordinal)];

    /// <summary>First-pass yield of steps: of the first attempts, those that passed and were no rework.</summary>
    public IReadOnlyDictionary<StepYieldKey, ShareAnswer> StepYields()
    {
        var counts = new Dictionary<StepYieldKey, ShareAnswer>();
        foreach (var unit in Units.Values)
        {
            foreach (var step in unit.Steps.Where(s => s.Attempt == 1))
            {
                var key = new StepYieldKey(ItemOf(unit), step.Step, step.Day, step.Station, unit.Variant, step.Revision);
                counts[key] = counts.GetValueOrDefault(key, new(0, 0)) + new ShareAnswer(step is { Passed: true, IsRework: false } ? 1 : 0, 1);
            }
        }

        return counts;
    }

    /// <summary>First-pass yield of units that ended: those that passed every step at the first attempt without rework.</summary>
    public IReadOnlyDictionary<UnitYieldKey, ShareAnswer> UnitYields()
    {
        var counts = new Dictionary<UnitYieldKey, ShareAnswer>();
        foreach (var unit in Units.Values.Where(u => u.EndedDay is not null))
        {
            var key = new UnitYieldKey(ItemOf(unit), unit.EndedDay!.Value, unit.Variant, unit.Revision);
            counts[key] = counts.GetValueOrDefault(key, new(0, 0)) + new ShareAnswer(unit.PassedFirstTime ? 1 : 0, 1);
        }

        return counts;
    }

    /// <summary>The counts of all step yields that fulfil a condition, added up by step.</summary>
    public IReadOnlyDictionary<string, ShareAnswer> StepYields(string item, Func<StepYieldKey, bool> which) => StepYields()
        .Where(y => y.Key.Item == item && which(y.Key))
        .GroupBy(y => y.Key.Step, StringComparer.Ordinal)
        .ToDictionary(g => g.Key, g => g.Select(y => y.Value).Aggregate((a, b) => a + b), StringComparer.Ordinal);

    /// <summary>Rolled throughput yield: the product of the step yields of a revision; null if a step was never done.</summary>
    public double? RolledThroughput(string item, string revision, Func<StepYieldKey, bool> which)
    {
        var shares = StepYields(item, k => k.Revision == revision && which(k));
        var steps = _book.Released(item).Where(r => Json.Text(r, "revision") == revision).SelectMany(r => Json.List(r, "steps")).Select(s => Json.Text(s, "code")!);
        double? product = 1;
        foreach (var step in steps)
        {
            product *= shares.TryGetValue(step, out var share) ? share.Value : null;
        }

        return product;
    }

    /// <summary>Interval rules that were broken or can't be judged, with their units.</summary>
    public IReadOnlyList<(string Unit, FindingAnswer Finding)> Violations() =>
        [.. Units.Values.SelectMany(u => u.Findings.Where(f => IntervalKinds.Contains(f.Kind)).Select(f => (u.Unit, f)))];

    /// <summary>Open intervals, with their units.</summary>
    public IReadOnlyList<(string Unit, OpenAnswer Open)> OpenIntervals() => [.. Units.Values.SelectMany(u => u.Open.Select(o => (u.Unit, o)))];

    /// <summary>Open intervals whose maximum is exceeded at <see cref="Now"/>, or may be within the clock's uncertainty.</summary>
    public IReadOnlyList<(string Unit, OpenAnswer Open)> Overdue() =>
        [.. OpenIntervals().Where(o => o.Open.OverdueAt is { } at && Now + o.Open.Uncertainty > at)];

    /// <summary>What a lot or one of its containers reaches; every unit that is not in the list is cleared.</summary>
    public IReadOnlyList<ScopeMember> Scope(string item, string lot, string? container = null) => new ScopeReader(_book, Units, item, lot, container).Read();

    /// <summary>What was done with a tool, with whether the time is suspect by its calibrations and checks.</summary>
    public IReadOnlyList<(string Unit, ToolUseAnswer Use)> UsesOf(string tool) =>
        [.. Units.Values.SelectMany(u => u.ToolUses.Where(t => t.Tool == tool).Select(t => (u.Unit, t)))];

    /// <summary>Every nonconformance, with its unit.</summary>
    public IReadOnlyList<(string Unit, NonconformanceAnswer Nonconformance)> Nonconformances() =>
        [.. Units.Values.SelectMany(u => u.Nonconformances.Select(n => (u.Unit, n)))];

    /// <summary>What a unit, and the units inside it, lack for its release at that moment, each as "unit code step rule"; empty: nothing.</summary>
    public IReadOnlyList<string> LackingForRelease(string unit, DateTimeOffset at) => new ReleaseReader(_book, _pasts, Units, at).Read(unit);

    /// <summary>What of a lot is accounted for; null where it was never counted and is not at its end.</summary>
    public BalanceAnswer? Balance(string item, string lot) => new LotReader(_book).Balance($"{item}/{lot}", Units.Values.SelectMany(u => u.Usages));

    private static string ItemOf(UnitAnswer unit) => unit.Unit.Split('/')[0];
}
