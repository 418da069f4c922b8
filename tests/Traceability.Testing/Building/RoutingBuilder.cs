using System.Collections.Immutable;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;

namespace Traceability.Testing.Building;

/// <summary>Writes a routing revision, step by step.</summary>
public sealed class RoutingBuilder(string item, string revision = "A")
{
    private readonly List<StepBuilder> _steps = [];
    private readonly List<IntervalRule> _intervals = [];
    private Effectivity _effectivity = Effectivity.Always;

    public ItemNumber Item { get; } = ItemNumber.Parse(item);

    public RoutingBuilder For(Effectivity effectivity)
    {
        _effectivity = effectivity;
        return this;
    }

    /// <summary>Adds a step.</summary>
    public RoutingBuilder Step(string code, Action<StepBuilder>? with = null)
    {
        var step = new StepBuilder(code);
        with?.Invoke(step);
        _steps.Add(step);
        return this;
    }

    /// <summary>Adds an interval rule; milestones as "STEP.started", "STEP.completed", "STEP.mark:NAME", "STEP.opened:REQUIREMENT".</summary>
    public RoutingBuilder Interval(
        string code, string from, string to, double? minMinutes = null, double? maxMinutes = null, RulePolicy? policy = null, Effectivity? appliesTo = null, CureCondition? temperature = null, string? openTimeOf = null)
    {
        _intervals.Add(new(
            Some.Code(code),
            code,
            Milestone(from),
            Milestone(to),
            minMinutes is { } min ? TimeSpan.FromMinutes(min) : null,
            maxMinutes is { } max ? TimeSpan.FromMinutes(max) : null,
            appliesTo ?? Effectivity.Always,
            policy) { Temperature = temperature, OpenTimeOf = openTimeOf is null ? null : Some.Code(openTimeOf) });
        return this;
    }

    public RoutingRevision Build() => new(
        Item, RevisionCode.Parse(revision), "as written", _effectivity, [.. _steps.Select(s => s.Build())], [.. _intervals]);

    private static Milestone Milestone(string text)
    {
        var parts = text.Split('.', 2);
        var kind = parts[1].Split(':', 2);
        return new(
            StepCode.Parse(parts[0]),
            kind[0] switch
            {
                "started" => MilestoneKind.Started,
                "completed" => MilestoneKind.Completed,
                "mark" => MilestoneKind.Mark,
                "opened" => MilestoneKind.ContainerOpened,
                _ => throw new ArgumentException($"'{text}' is no milestone.", nameof(text)),
            },
            kind.Length > 1 ? Some.Code(kind[1]) : null);
    }
}

/// <summary>Writes one step.</summary>
public sealed class StepBuilder(string code)
{
    private readonly List<Characteristic> _characteristics = [];
    private readonly List<MaterialRequirement> _materials = [];
    private readonly List<ComponentRequirement> _components = [];
    private readonly List<ToolRequirement> _tools = [];
    private ImmutableArray<StepCode> _prerequisites = [];
    private ImmutableArray<StepCode> _hides = [];
    private ImmutableArray<string> _cautions = [];
    private ImmutableArray<StationCode> _stations = [];
    private Effectivity _appliesTo = Effectivity.Always;
    private Code? _qualification;
    private bool _isPointOfNoReturn;
    private RulePolicy? _orderPolicy;
    private bool? _allowsSupervised;

    /// <summary>Effective for these variants only.</summary>
    public static Effectivity Variants(params string[] variants) => Effectivity.Always with { Variants = [.. variants.Select(VariantCode.Parse)] };

    public StepBuilder After(params string[] steps) => Set(() => _prerequisites = [.. steps.Select(StepCode.Parse)]);

    public StepBuilder PointOfNoReturn(params string[] hides) => Set(() =>
    {
        _isPointOfNoReturn = true;
        _hides = [.. hides.Select(StepCode.Parse)];
    });

    public StepBuilder AppliesTo(Effectivity effectivity) => Set(() => _appliesTo = effectivity);

    public StepBuilder Caution(string text) => Set(() => _cautions = _cautions.Add(text));

    public StepBuilder AtStations(params string[] stations) => Set(() => _stations = [.. stations.Select(StationCode.Parse)]);

    public StepBuilder Needs(string qualification) => Set(() => _qualification = Some.Code(qualification));

    public StepBuilder Supervised(bool isAllowed = true) => Set(() => _allowsSupervised = isAllowed);

    public StepBuilder OrderPolicy(RulePolicy policy) => Set(() => _orderPolicy = policy);

    public StepBuilder Measure(string name, string unit, decimal? lower = null, decimal? upper = null, decimal guardBand = 0, bool isRequired = true, RulePolicy? policy = null) =>
        Measure(name, unit, lower is { } l ? new Limit(l, []) : null, upper is { } u ? new Limit(u, []) : null, guardBand, isRequired, policy);

    public StepBuilder Measure(string name, string unit, Limit? lower, Limit? upper, decimal guardBand = 0, bool isRequired = true, RulePolicy? policy = null) =>
        Set(() => _characteristics.Add(new(Some.Code(name), name, unit, lower, upper, guardBand, isRequired, policy)));

    public StepBuilder Check(string name, bool isRequired = true, RulePolicy? policy = null) =>
        Set(() => _characteristics.Add(new(Some.Code(name), name, null, null, null, 0, isRequired, policy)));

    public StepBuilder Material(
        string name, string item, Tracing tracing = Tracing.Lot, string[]? alternatives = null, EnteredQuantity? min = null, EnteredQuantity? max = null, Effectivity? appliesTo = null, RulePolicy? policy = null) =>
        Set(() => _materials.Add(new(Some.Code(name), ItemNumber.Parse(item), [.. (alternatives ?? []).Select(ItemNumber.Parse)], tracing, min, max, appliesTo ?? Effectivity.Always, policy)));

    public StepBuilder Component(
        string position, string item, bool mustBeReleased = false, string[]? alternatives = null, Effectivity? appliesTo = null, RulePolicy? policy = null) =>
        Set(() => _components.Add(new(Some.Code(position), ItemNumber.Parse(item), [.. (alternatives ?? []).Select(ItemNumber.Parse)], appliesTo ?? Effectivity.Always, mustBeReleased, policy)));

    public StepBuilder Tool(string name, string toolClass, string? setting = null, EnteredQuantity? torqueMin = null, EnteredQuantity? torqueMax = null, RulePolicy? policy = null) =>
        Set(() => _tools.Add(new(Some.Code(name), Some.Code(toolClass), setting is null ? null : Some.Code(setting), torqueMin, torqueMax, policy)));

    internal Step Build() => new(
        StepCode.Parse(code),
        code,
        _appliesTo,
        _prerequisites,
        _isPointOfNoReturn,
        _hides,
        _cautions,
        _stations,
        _qualification,
        [.. _characteristics],
        [.. _materials],
        [.. _components],
        [.. _tools],
        _orderPolicy)
    {
        AllowsSupervised = _allowsSupervised,
    };

    private StepBuilder Set(Action set)
    {
        set();
        return this;
    }
}
