namespace Traceability.Contracts;

/// <summary>One line of the answer to an import of history: how far it is, or a fact that was not stored.</summary>
public sealed record HistoryLine
{
    /// <summary>How far the import is: everything counted is durable. The last line has it, too; null on the line of a fact.</summary>
    public HistoryCounts? Counts { get; init; }

    /// <summary>The number of the line that the fact came in, from 1; empty lines count.</summary>
    public int? Line { get; init; }

    /// <summary>The sender's id of the fact, where it could be read.</summary>
    public Guid? FactId { get; init; }

    /// <summary>The HTTP status that the fact would have got by itself: 400, 404, 409, 503 and so on.</summary>
    public int? Status { get; init; }

    /// <summary>What is wrong with it.</summary>
    public Problem? Problem { get; init; }
}

/// <summary>What became of the lines of an import so far.</summary>
/// <param name="Lines">Lines taken.</param>
/// <param name="Recorded">Facts recorded by this request.</param>
/// <param name="Repeats">Facts that were recorded before, with the same content.</param>
/// <param name="Refused">Facts that were not stored.</param>
/// <param name="IsComplete">On the last line: whether every line was taken. False when the import was broken off: send the file again, what is there is passed over.</param>
public sealed record HistoryCounts(long Lines, long Recorded, long Repeats, long Refused, bool IsComplete);
