using Traceability.Domain.Nonconformances;

namespace Traceability.Domain.Judging;

/// <summary>Defects that a person reports, by code.</summary>
internal static class DefectRules
{
    /// <summary>Reports outside a step's completion are nonconformances by themselves; only an unknown code is a finding.</summary>
    public static void JudgeReports(UnitHistory history, FindingSink sink)
    {
        foreach (var fact in history.NonconformanceFacts!)
        {
            if (fact is { IsVoided: false, Fact: NonconformanceReported report } && !history.References.IsDefectKnown(report.Defect))
            {
                sink.Add(fact, report.Step, FindingKinds.DefectUnknown, report.Defect.ToString(), null, $"Defect code {report.Defect} is not known here.");
            }
        }
    }

    public static void Judge(UnitHistory history, Attempt attempt, FindingSink sink)
    {
        foreach (var report in attempt.Record.Defects.OrEmpty())
        {
            var rule = report.Defect.ToString();
            var count = Math.Max(1, report.Count);
            var before = attempt.Defects;
            sink.Add(
                attempt,
                FindingKinds.DefectReported,
                rule,
                null,
                $"Defect {report.Defect} was reported{(count > 1 ? $" {Say.Number(count)} times" : string.Empty)}.",
                ("count", Say.Number(count)),
                ("note", report.Note ?? string.Empty));
            attempt.Defects = (int)Math.Min((long)before + count, int.MaxValue);
            if (!history.References.IsDefectKnown(report.Defect))
            {
                sink.Add(attempt, FindingKinds.DefectUnknown, rule, null, $"Defect code {report.Defect} is not known here.");
            }
        }
    }
}
