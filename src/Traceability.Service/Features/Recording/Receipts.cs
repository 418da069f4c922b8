using Traceability.Contracts;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Ingest;

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
        return new(
            recorded.FactId,
            recorded.Stream,
            recorded.Version,
            recorded.RecordedAt,
            recorded.IsRepeat,
            unit is { } key ? [.. recorded.Findings.Select(f => FindingViews.Of(f, key))] : []);
    }
}
