using Traceability.Contracts;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Ingest;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Recording;

/// <summary>Turns what became of a fact into what is answered.</summary>
internal static class Receipts
{
    /// <summary>The receipt of a stored fact.</summary>
    public static FactReceipt Of(IngestAnswer.Recorded recorded)
    {
        UnitKey? unit = recorded.Stream.StartsWith(StreamNames.UnitPrefix, StringComparison.Ordinal)
            ? UnitKey.Parse(recorded.Stream[StreamNames.UnitPrefix.Length..])
            : null;
        return new()
        {
            FactId = recorded.Posted.Id,
            Type = EventNames.Of(recorded.Posted.Fact.GetType()).Replace('_', '-'),
            Stream = recorded.Stream,
            Version = recorded.Version,
            RecordedAt = recorded.RecordedAt,
            OccurredAt = recorded.Posted.Fact.At,
            IsRepeat = recorded.IsRepeat,
            Unit = unit is { } u ? new() { Item = u.Item.Value, Serial = u.Serial.Value } : null,
            Findings = unit is { } key ? [.. recorded.Findings.Select(f => FindingViews.Of(f, key))] : [],
        };
    }

    /// <summary>The problem of a refused line.</summary>
    public static Problem ProblemOf(Refusal refusal) => new()
    {
        Type = $"/problems/{refusal.Code}",
        Title = RefusalProblems.Title(refusal.Kind),
        Status = RefusalProblems.Status(refusal.Kind),
        Detail = refusal.Detail,
        Code = refusal.Code,
        Errors = [.. refusal.Faults.Select(f => new ProblemError { Pointer = f.Pointer, Detail = f.Detail })],
    };

    /// <summary>The problem of a line that is to be sent again.</summary>
    public static Problem ProblemOf(IngestAnswer.Unavailable later) => new()
    {
        Type = $"/problems/{ProblemKind.StoreUnavailable.Code}",
        Title = ProblemKind.StoreUnavailable.Title,
        Status = ProblemKind.StoreUnavailable.Status,
        Detail = later.Reason,
        Code = ProblemKind.StoreUnavailable.Code,
    };
}
