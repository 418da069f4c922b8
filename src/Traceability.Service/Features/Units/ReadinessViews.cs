using Traceability.Contracts.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Units;

/// <summary>Turns the answer to a readiness question into what is sent.</summary>
internal static class ReadinessViews
{
    /// <summary>The answer.</summary>
    public static Contracts.ReadinessAnswer Of(ReadinessAnswer answer, JudgedUnit judged, DateTimeOffset askedAt) => new()
    {
        Unit = new() { Item = judged.Unit.Key.Item.Value, Serial = judged.Unit.Key.Serial.Value },
        Step = answer.Step.Value,
        AskedAt = askedAt,
        Answer = answer.Verdict switch
        {
            ReadinessVerdict.Go => Contracts.ReadinessVerdict.Go,
            ReadinessVerdict.Wait => Contracts.ReadinessVerdict.Wait,
            _ => Contracts.ReadinessVerdict.No,
        },
        WaitUntil = answer.WaitUntil,
        EarliestCompletion = answer.EarliestCompletion,
        Assumptions = answer.Assumptions,
        Lives = [.. answer.Lives.Select(l => new Contracts.MaterialLife(l.What, l.Lot.Item.Value, l.Lot.Lot.Value, l.Container?.Value, l.StartedAt, l.Until, l.Assumption))],
        Deadlines = [.. answer.Deadlines.Select(d => new Contracts.IntervalDeadline(d.Rule.Value, d.Name, EnumNames<Domain.Routings.MilestoneKind>.Of(d.EndsAt), d.StartedAt, d.Until, d.Assumption))],
        Revision = answer.Revision?.Value,
        Attempt = answer.Attempt,
        Reasons = [.. answer.Reasons.Select(r => new Contracts.ReadinessReason
        {
            Kind = r.Kind,
            Rule = r.Rule,
            Enforcement = r.Enforcement == Domain.Routings.Enforcement.Stop ? Enforcement.Stop : Enforcement.Flag,
            Message = r.Message,
            ClearsAt = r.Until,
        })],
        Cautions = answer.Needs?.Cautions ?? [],
        Completeness = Completeness(answer, judged),
        Needs = answer.Needs is { } needs ? Needs(needs) : null,
    };

    // What the question names can be unreadable without the unit having used it.
    private static Contracts.Completeness Completeness(ReadinessAnswer answer, JudgedUnit judged)
    {
        var unit = CompletenessReader.Of(judged);
        var asked = answer.Reasons.Where(r => r.Kind == FindingKinds.ReferenceUnreadable).Select(r => r.Rule)
            .Except(judged.Judgement.Unreadable, StringComparer.Ordinal).ToArray();
        return unit with
        {
            IsComplete = unit.IsComplete && answer.Reasons.All(r => r.Kind is not (FindingKinds.ReferenceUnreadable or FindingKinds.UnitNotJudged)),
            UnreadableRecords = unit.UnreadableRecords + asked.Length,
            UnreadableStreamsShown = [.. unit.UnreadableStreamsShown.Concat(asked).Take(CompletenessReader.ShownMax)],
        };
    }

    private static Contracts.StepNeeds Needs(StepNeeds needs) => new()
    {
        Name = needs.Name,
        Qualification = needs.Qualification?.Value,
        AllowsSupervised = needs.AllowsSupervised,
        Materials = [.. needs.Materials.Select(m => new Contracts.MaterialNeed(
            m.Code.Value, m.Item.Value, [.. m.Alternatives.Select(a => a.Value)], Tracing(m.Tracing), Quantity(m.QuantityMin), Quantity(m.QuantityMax)))],
        Components = [.. needs.Components.Select(c => new Contracts.ComponentNeed(c.Position.Value, c.Item.Value, [.. c.Alternatives.Select(a => a.Value)]))],
        Tools = [.. needs.Tools.Select(t => new Contracts.ToolNeed(t.Code.Value, t.ToolClass.Value, t.Setting?.Value))],
        Characteristics = [.. needs.Characteristics.Select(c => new Contracts.CharacteristicNeed(
            c.Code.Value, c.Name, c.Unit, c.Lower, c.Upper, c.GuardBand, c.IsRequired, c.AreLimitsKnown))],
    };

    private static Tracing Tracing(Domain.Routings.Tracing tracing) => tracing switch
    {
        Domain.Routings.Tracing.Lot => Contracts.Facts.Tracing.Lot,
        Domain.Routings.Tracing.Container => Contracts.Facts.Tracing.Container,
        _ => Contracts.Facts.Tracing.None,
    };

    private static QuantityValue? Quantity(EnteredQuantity? quantity) => quantity is { } q ? new() { Value = q.Value, Unit = q.Unit } : null;
}
