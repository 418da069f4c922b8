using Traceability.Contracts.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http;

/// <summary>Turns a finding into what is answered.</summary>
internal static class FindingViews
{
    /// <summary>The finding on a unit.</summary>
    public static Contracts.Finding Of(Domain.Judging.Finding finding, UnitKey unit) => new()
    {
        Kind = finding.Kind,
        Rule = finding.Rule,
        Unit = new() { Item = unit.Item.Value, Serial = unit.Serial.Value },
        Step = finding.Step?.Value,
        Attempt = finding.Attempt,
        Record = finding.Record,
        At = finding.At,
        Enforcement = finding.Policy.Enforcement == Domain.Routings.Enforcement.Stop ? Enforcement.Stop : Enforcement.Flag,
        CountsAsDefect = finding.Policy.CountsAsDefect,
        Message = finding.Message,
        Evidence = finding.Evidence,
        Concession = finding.Concession?.Value,
    };
}
