using Traceability.Contracts.Facts;
using Traceability.Contracts.Units;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Units;

/// <summary>Turns a judged unit into what is answered.</summary>
internal static class UnitViews
{
    /// <summary>The unit as it stands.</summary>
    public static UnitView Of(JudgedUnit judged, DateTimeOffset asOf)
    {
        var judgement = judged.Judgement;
        return new(
            Summary(judged),
            asOf,
            judged.Unit.Version,
            [.. Domain.Judging.Readiness.NextSteps(judged.Unit, judged.References).Select(s => s.Value)],
            [.. judgement.Steps.Select(Attempt)],
            [.. judgement.OpenIntervals.Select(Interval)],
            [.. judgement.Findings.Select(f => FindingViews.Of(f, judgement.Unit))],
            [.. judgement.Installations.Select(Installed)],
            [.. judged.Parents.Select(Installed)],
            CompletenessReader.Of(judged))
        {
            OpenNonconformances = [.. judgement.Nonconformances.Where(n => n.IsOpen).Select(n => NonconformanceForms.Of(n, judgement.Unit))],
        };
    }

    private static UnitSummary Summary(JudgedUnit judged)
    {
        var (key, status) = (judged.Judgement.Unit, judged.Judgement.Status);
        return new(
            key.Item.Value,
            key.Serial.Value,
            status.Variant?.Value,
            status.Revision?.Value,
            status.OpenedAt,
            EnumNames<Place>.Of(status.Place),
            status.Step?.Value,
            status.Since,
            status.Consignee,
            status.EndedAt,
            status.HasUnreadable)
        {
            Holds = status.Holds?.Split(' ') ?? [],
        };
    }

    private static StepAttempt Attempt(StepResult step) => new(
        step.Step.Value,
        step.Attempt,
        step.Record,
        step.Revision?.Value,
        step.StartedAt,
        step.CompletedAt,
        step.Day,
        step.Station?.Value,
        step.Person?.Value,
        step.IsRework,
        step.Passed,
        step.Defects);

    private static UnitInterval Interval(OpenInterval interval) => new(
        interval.Rule.Value,
        interval.Name,
        interval.FromStep.Value,
        interval.ToStep.Value,
        interval.StartedAt,
        interval.Uncertainty,
        interval.ReadyAt,
        interval.OverdueAt)
    {
        Assumption = interval.Assumption,
        AssumedUntil = interval.AssumedUntil,
    };

    private static InstalledUnit Installed(Installation installation) => new(
        Reference(installation.Parent),
        installation.Position.Value,
        Reference(installation.Component),
        installation.Step?.Value,
        installation.Record,
        installation.From,
        installation.To);

    private static UnitRef Reference(UnitKey key) => new() { Item = key.Item.Value, Serial = key.Serial.Value };
}
