using Traceability.Domain.Facts;

namespace Traceability.Service.Ingest;

/// <summary>Which streams facts go to.</summary>
internal static class FactStreams
{
    /// <summary>Whether a stream is a unit's.</summary>
    public static bool IsUnit(string stream) => stream.StartsWith(StreamNames.UnitPrefix, StringComparison.Ordinal);

    /// <summary>The record that a correction names; null for any other fact.</summary>
    public static Guid? RecordNamedBy(Fact fact) => fact switch
    {
        RecordCorrected c => c.Record,
        RecordVoided v => v.Record,
        _ => null,
    };

    /// <summary>How many of the facts may put a unit among those that were taken out of a batch.</summary>
    public static int OpeningsIn(IEnumerable<PendingFact> facts) =>
        facts.Count(f => f.Posted.Fact is Domain.ProductUnits.UnitOpened or RecordCorrected { Replacement: Domain.ProductUnits.UnitOpened } or RecordVoided);

    /// <summary>The stream of each fact. A correction goes to that of the record that it names, which may be one of these facts before it; null where there is none.</summary>
    /// <param name="facts">The facts, in order.</param>
    /// <param name="streamOfStored">The stream of a fact that is stored; null if it isn't.</param>
    public static Dictionary<PendingFact, string?> Of(IReadOnlyList<PendingFact> facts, Func<Guid, string?> streamOfStored)
    {
        var streams = new Dictionary<PendingFact, string?>(facts.Count);
        var here = new Dictionary<Guid, string?>(facts.Count);
        foreach (var pending in facts)
        {
            var stream = StreamNames.Of(pending.Posted.Fact)
                ?? (RecordNamedBy(pending.Posted.Fact) is { } record ? streamOfStored(record) ?? here.GetValueOrDefault(record) : null);
            streams[pending] = stream;
            here.TryAdd(pending.Posted.Id, stream);
        }

        return streams;
    }
}
