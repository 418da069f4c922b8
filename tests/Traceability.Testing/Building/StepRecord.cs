using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Testing.Building;

/// <summary>Writes one step's completion. Without a start of its own it begins one minute before it is completed.</summary>
public sealed class StepRecord
{
    private StepCompleted _fact;

    public StepRecord(UnitKey unit, string step, DateTimeOffset at)
    {
        _fact = new StepCompleted(unit, StepCode.Parse(step), at.AddMinutes(-1), false, [], [], [], [], [], [], [], null)
        {
            OccurredAt = at,
            Station = Some.Station,
            Person = Some.Person,
            Clock = Some.RightClock,
        };
    }

    public StepCompleted Fact => _fact;

    public StepRecord Started(DateTimeOffset? at) => Set(_fact with { StartedAt = at });

    public StepRecord Rework() => Set(_fact with { IsRework = true });

    public StepRecord Mark(string name, DateTimeOffset at) => Set(_fact with { Marks = _fact.Marks.Add(new(Some.Code(name), at)) });

    public StepRecord Used(string item, string? lot = null, string? container = null, EnteredQuantity? quantity = null, string? requirement = null) =>
        UsedOneOf(item, lot is null ? [] : [lot], container, quantity, requirement);

    public StepRecord UsedOneOf(string item, string[] lots, string? container = null, EnteredQuantity? quantity = null, string? requirement = null) =>
        Set(_fact with
        {
            Materials = _fact.Materials.Add(new(
                ItemNumber.Parse(item),
                [.. lots.Select(LotNumber.Parse)],
                container is null ? null : ContainerNumber.Parse(container),
                quantity,
                requirement is null ? null : Some.Code(requirement))),
        });

    public StepRecord Tool(string tool, string? setting = null, string? requirement = null) => Set(_fact with
    {
        Tools = _fact.Tools.Add(new(ToolNumber.Parse(tool), setting is null ? null : Some.Code(setting), requirement is null ? null : Some.Code(requirement))),
    });

    public StepRecord Measured(string characteristic, decimal value, string unit, decimal? standardUncertainty = null) =>
        Set(_fact with { Measurements = _fact.Measurements.Add(new(Some.Code(characteristic), value, unit) { StandardUncertainty = standardUncertainty }) });

    public StepRecord Checked(string characteristic, bool passed = true) =>
        Set(_fact with { Checks = _fact.Checks.Add(new(Some.Code(characteristic), passed)) });

    public StepRecord Fitted(string position, UnitKey component) =>
        Set(_fact with { Components = _fact.Components.Add(new(Some.Code(position), component)) });

    public StepRecord Defect(string code, int count = 1) =>
        Set(_fact with { Defects = _fact.Defects.Add(new(Some.Code(code), count, null)) });

    public StepRecord By(string? person) => Set(_fact with { Person = person is null ? null : PersonCode.Parse(person) });

    public StepRecord Supervisor(string person) => Set(_fact with { Supervisor = PersonCode.Parse(person) });

    public StepRecord AtStation(string? station) => Set(_fact with { Station = station is null ? null : StationCode.Parse(station) });

    public StepRecord Clock(ClockReading clock) => Set(_fact with { Clock = clock });

    private StepRecord Set(StepCompleted fact)
    {
        _fact = fact;
        return this;
    }
}
