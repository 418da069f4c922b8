using Traceability.Domain.Primitives;
using Traceability.Domain.Quantities;
using Traceability.Domain.Routings;

namespace Traceability.Service.Http.Reading;

/// <summary>Checks a revision by itself: every name that it uses must be one that it defines, and no rule may contradict itself.</summary>
/// <remarks>Parts that could not be read are null or default here, and have been told; nothing is told of them again.</remarks>
internal static class RoutingChecks
{
    /// <summary>Adds the faults; the reading stands at the revision.</summary>
    public static void Run(JsonReading reading, RoutingRevision revision)
    {
        var steps = new Dictionary<StepCode, Step>();
        if (revision.Steps.IsEmpty)
        {
            reading.Fail("steps", "A routing needs at least one step.");
        }

        for (var s = 0; s < revision.Steps.Length; s++)
        {
            var step = revision.Steps[s];
            if (step.Code != default && !steps.TryAdd(step.Code, step))
            {
                At(reading, "steps", s, r => r.Fail("code", $"There is a step {step.Code} before. Every step has a code of its own."));
            }
        }

        for (var s = 0; s < revision.Steps.Length; s++)
        {
            var step = revision.Steps[s];
            At(reading, "steps", s, r => CheckStep(r, revision, step, steps));
        }

        CheckCycles(reading, revision, steps);
        CheckIntervals(reading, revision, steps);
    }

    private static void CheckStep(JsonReading reading, RoutingRevision revision, Step step, Dictionary<StepCode, Step> steps)
    {
        CheckStepNames(reading, "prerequisites", step.Prerequisites, step, steps);
        CheckStepNames(reading, "hides", step.Hides, step, steps);
        if (!step.IsPointOfNoReturn && !step.Hides.IsEmpty)
        {
            reading.Fail("hides", "Only a point of no return hides steps. Set isPointOfNoReturn, or leave hides out.");
        }

        CheckOnce(reading, "characteristics", [.. step.Characteristics.Select(c => c.Code)], "code");
        CheckOnce(reading, "materials", [.. step.Materials.Select(c => c.Code)], "code");
        CheckOnce(reading, "components", [.. step.Components.Select(c => c.Position)], "position");
        CheckOnce(reading, "tools", [.. step.Tools.Select(c => c.Code)], "code");
        for (var c = 0; c < step.Characteristics.Length; c++)
        {
            var characteristic = step.Characteristics[c];
            At(reading, "characteristics", c, r => CheckCharacteristic(r, revision, step, characteristic, steps));
        }
    }

    private static void CheckStepNames(JsonReading reading, string list, ImmutableArray<StepCode> names, Step step, Dictionary<StepCode, Step> steps)
    {
        for (var i = 0; i < names.Length; i++)
        {
            var name = names[i];
            var detail = name == default ? null
                : name == step.Code ? "A step can't name itself here."
                : steps.ContainsKey(name) ? null
                : Missing("step", name.Value, steps.Keys.Select(k => k.Value));
            if (detail is not null)
            {
                reading.Enter(list);
                reading.Enter(i);
                reading.Fail(null, detail);
                reading.Leave();
                reading.Leave();
            }
        }
    }

    private static void CheckOnce(JsonReading reading, string list, Code[] codes, string member)
    {
        var once = new Once<Code>(codes.Length);
        for (var i = 0; i < codes.Length; i++)
        {
            if (!once.Add(codes[i]))
            {
                At(reading, list, i, r => r.Fail(member, "It is given twice in this step."));
            }
        }
    }

    private static void CheckCharacteristic(
        JsonReading reading, RoutingRevision revision, Step step, Characteristic characteristic, Dictionary<StepCode, Step> steps)
    {
        if (characteristic.IsCheck)
        {
            if (characteristic.Lower is not null || characteristic.Upper is not null || characteristic.GuardBand != 0)
            {
                reading.Fail("unit", "The member is missing. A characteristic with limits or a guard band is measured, in a unit; without a unit it is a pass/fail check.");
            }

            return;
        }

        if (characteristic.GuardBand < 0)
        {
            reading.Fail("guardBand", "A guard band must not be negative: it is taken off both limits.");
        }

        CheckLimit(reading, "lower", characteristic.Lower, revision, step, characteristic, steps);
        CheckLimit(reading, "upper", characteristic.Upper, revision, step, characteristic, steps);
        if (characteristic is { Lower: { Terms.IsEmpty: true } lower, Upper: { Terms.IsEmpty: true } upper }
            && upper.Constant < lower.Constant)
        {
            reading.Fail("upper", "The upper limit is below the lower limit, so no value could pass.");
        }
    }

    private static void CheckLimit(
        JsonReading reading, string name, Limit? limit, RoutingRevision revision, Step step, Characteristic characteristic, Dictionary<StepCode, Step> steps)
    {
        for (var t = 0; t < (limit?.Terms.Length ?? 0); t++)
        {
            var term = limit!.Terms[t];
            reading.Enter(name);
            At(reading, "terms", t, r => CheckTerm(r, term, revision, step, characteristic, steps));
            reading.Leave();
        }
    }

    private static void CheckTerm(
        JsonReading reading, LimitTerm term, RoutingRevision revision, Step step, Characteristic characteristic, Dictionary<StepCode, Step> steps)
    {
        if (term.Position is { } position)
        {
            // The component has a routing of its own; only the position can be judged from here.
            var positions = revision.Steps.SelectMany(s => s.Components).Select(c => c.Position).Where(p => p != default).ToHashSet();
            if (!positions.Contains(position))
            {
                reading.Fail("position", Missing("component position", position.Value, positions.Select(p => p.Value)));
            }

            return;
        }

        if (term.Step == default || term.Characteristic == default)
        {
            return;
        }

        if (!steps.TryGetValue(term.Step, out var measuredAt))
        {
            reading.Fail("step", Missing("step", term.Step.Value, steps.Keys.Select(k => k.Value)));
            return;
        }

        var measured = measuredAt.Characteristics.FirstOrDefault(c => c.Code == term.Characteristic);
        var detail = measured is null
            ? Missing($"characteristic of step {term.Step}", term.Characteristic.Value, measuredAt.Characteristics.Where(c => c.Code != default).Select(c => c.Code.Value))
            : measured.IsCheck ? $"{term.Characteristic} is a pass/fail check and has no value."
            : term.Step == step.Code && term.Characteristic == characteristic.Code ? "A characteristic's limit can't be derived from itself."
            : DimensionFault(measured.Unit, characteristic.Unit);
        if (detail is not null)
        {
            reading.Fail("characteristic", detail);
        }
    }

    private static string? DimensionFault(string? measured, string? limited) =>
        UcumUnit.TryParse(measured, out var from) && UcumUnit.TryParse(limited, out var to) && !from.IsCommensurableWith(to)
            ? $"It is measured in '{from.Code}' ({from.Dimension.Name}), which can't be converted to '{to.Code}' ({to.Dimension.Name})."
            : null;

    // Takes away, again and again, the steps whose prerequisites are all taken away; what stays waits for itself.
    private static void CheckCycles(JsonReading reading, RoutingRevision revision, Dictionary<StepCode, Step> steps)
    {
        var waiting = steps.ToDictionary(s => s.Key, s => s.Value.Prerequisites.Where(p => p != s.Key && steps.ContainsKey(p)).ToHashSet());
        while (waiting.Where(w => w.Value.Count == 0).Select(w => w.Key).ToArray() is { Length: > 0 } free)
        {
            foreach (var step in free)
            {
                waiting.Remove(step);
            }

            foreach (var others in waiting.Values)
            {
                others.ExceptWith(free);
            }
        }

        // Steps that only come after a cycle are stuck too, but not at fault.
        while (waiting.Keys.Where(k => !waiting.Values.Any(v => v.Contains(k))).ToArray() is { Length: > 0 } after)
        {
            foreach (var step in after)
            {
                waiting.Remove(step);
            }
        }

        for (var s = 0; s < revision.Steps.Length; s++)
        {
            if (waiting.ContainsKey(revision.Steps[s].Code))
            {
                var members = string.Join(", ", waiting.Keys.Select(k => k.Value).Order(StringComparer.Ordinal));
                At(reading, "steps", s, r => r.Fail("prerequisites", $"The prerequisites run in a circle, so none of these could start: {members}."));
            }
        }
    }

    private static void CheckIntervals(JsonReading reading, RoutingRevision revision, Dictionary<StepCode, Step> steps)
    {
        var once = new Once<Code>(revision.Intervals.Length);
        for (var i = 0; i < revision.Intervals.Length; i++)
        {
            var rule = revision.Intervals[i];
            var isFirst = once.Add(rule.Code);
            At(reading, "intervals", i, r =>
            {
                if (!isFirst)
                {
                    r.Fail("code", "There is an interval rule with this code before. Every rule has a code of its own.");
                }

                CheckMilestone(r, "from", rule.From, steps);
                CheckMilestone(r, "to", rule.To, steps);
                if (rule.From is not null && rule.From == rule.To && rule.From.Step != default)
                {
                    r.Fail("to", "An interval can't end with the milestone that starts it.");
                }

                CheckTemperature(r, rule, steps);
                CheckOpenTime(r, rule, steps);
            });
        }
    }

    private static void CheckTemperature(JsonReading reading, IntervalRule rule, Dictionary<StepCode, Step> steps)
    {
        if (rule is not { Temperature: { } condition, From: { } from } || condition.Requirement == default || !steps.TryGetValue(from.Step, out var step))
        {
            return;
        }

        reading.Enter("temperature");
        if (from.Kind == MilestoneKind.ContainerOpened)
        {
            reading.Fail(null, "A cure starts when the material is used, not when its container is opened.");
        }
        else if (!step.Materials.Any(m => m.Code == condition.Requirement))
        {
            reading.Fail("requirement", Missing($"material requirement of step {step.Code}", condition.Requirement.Value, step.Materials.Where(m => m.Code != default).Select(m => m.Code.Value)));
        }

        reading.Leave();
    }

    private static void CheckOpenTime(JsonReading reading, IntervalRule rule, Dictionary<StepCode, Step> steps)
    {
        if (rule is not { OpenTimeOf: { } requirement, From: { } from } || !steps.TryGetValue(from.Step, out var step))
        {
            return;
        }

        if (from.Kind == MilestoneKind.ContainerOpened)
        {
            reading.Fail("openTimeOf", "An open time starts when the material is applied, not when its container is opened.");
        }
        else if (!step.Materials.Any(m => m.Code == requirement))
        {
            reading.Fail("openTimeOf", Missing($"material requirement of step {step.Code}", requirement.Value, step.Materials.Where(m => m.Code != default).Select(m => m.Code.Value)));
        }
    }

    private static void CheckMilestone(JsonReading reading, string name, Milestone? milestone, Dictionary<StepCode, Step> steps)
    {
        if (milestone is null || milestone.Step == default)
        {
            return;
        }

        reading.Enter(name);
        if (!steps.TryGetValue(milestone.Step, out var step))
        {
            reading.Fail("step", Missing("step", milestone.Step.Value, steps.Keys.Select(k => k.Value)));
        }
        else if (milestone is { Kind: MilestoneKind.ContainerOpened, Name: { } requirement } && !step.Materials.Any(m => m.Code == requirement))
        {
            reading.Fail("name", Missing($"material requirement of step {step.Code}", requirement.Value, step.Materials.Where(m => m.Code != default).Select(m => m.Code.Value)));
        }

        reading.Leave();
    }

    private static string Missing(string what, string name, IEnumerable<string> known) =>
        $"There is no {what} {name} in this revision.{Suggestions.Hint(name, known)}";

    private static void At(JsonReading reading, string list, int index, Action<JsonReading> check)
    {
        reading.Enter(list);
        reading.Enter(index);
        check(reading);
        reading.Leave();
        reading.Leave();
    }
}
