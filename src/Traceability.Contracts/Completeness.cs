namespace Traceability.Contracts;

/// <summary>What may be missing from an answer, or wrong in it.</summary>
/// <param name="IsComplete">Every stored record that the answer rests on could be read, and every judgement in it is up to date.</param>
/// <param name="UnreadableUnits">
/// Number of units that something unreadable touches: a stored record of theirs, or of a lot, tool, person, routing or component that
/// they were judged by, can't be read, or they could not be judged. None of them is ever called clear or good for that.
/// </param>
/// <param name="UnreadableUnitsShown">Some of them, as item/serial.</param>
/// <param name="UnreadableRecords">Number of stored records that can't be read.</param>
/// <param name="UnreadableStreamsShown">Some of the streams that hold them, such as lot/ADH-1/L77.</param>
/// <param name="RejudgementsPending">
/// Number of units that wait to be judged again because something that they look at has changed; more than 10,000 are not counted.
/// </param>
public sealed record Completeness(
    bool IsComplete,
    int UnreadableUnits,
    IReadOnlyList<string> UnreadableUnitsShown,
    int UnreadableRecords,
    IReadOnlyList<string> UnreadableStreamsShown,
    int RejudgementsPending);
