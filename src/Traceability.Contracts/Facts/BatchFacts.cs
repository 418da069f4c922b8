namespace Traceability.Contracts.Facts;

/// <summary>One batch of parts without serials: its item and its batch number.</summary>
public sealed record BatchRef
{
    /// <summary>The item's number; 1 to 30 characters.</summary>
    public required string Item { get; init; }

    /// <summary>The batch's number; 1 to 20 characters.</summary>
    public required string Batch { get; init; }
}

/// <summary>Parts of one item, without serials, were put together to go through steps together.</summary>
public sealed record BatchFormed : FactMessage
{
    /// <summary>The batch.</summary>
    public required BatchRef Batch { get; init; }

    /// <summary>How many parts; 1 to 10,000.</summary>
    public required int Count { get; init; }

    /// <summary>The number of the received lot that they came in; null: nobody said.</summary>
    public string? Lot { get; init; }
}

/// <summary>Some parts of a batch were taken out of it to go on as a batch of their own. What was done to the first until then was done to both.</summary>
public sealed record BatchSplit : FactMessage
{
    /// <summary>The new batch, of the same item.</summary>
    public required BatchRef Batch { get; init; }

    /// <summary>The number of the batch that they were taken out of; 1 to 20 characters.</summary>
    public required string Source { get; init; }

    /// <summary>How many parts; 1 to 10,000.</summary>
    public required int Count { get; init; }
}

/// <summary>Work on a step began on all parts of the batch.</summary>
public sealed record BatchStepStarted : FactMessage
{
    /// <summary>The batch.</summary>
    public required BatchRef Batch { get; init; }

    /// <summary>The step's code, of the routing of the item.</summary>
    public required string Step { get; init; }
}

/// <summary>A step was completed on all parts of the batch. OccurredAt is the completion.</summary>
public sealed record BatchStepCompleted : FactMessage
{
    /// <summary>The batch.</summary>
    public required BatchRef Batch { get; init; }

    /// <summary>The step's code, of the routing of the item.</summary>
    public required string Step { get; init; }

    /// <summary>When it began, by the terminal's clock, not after OccurredAt; null: the last reported start of the step counts.</summary>
    public DateTimeOffset? StartedAt { get; init; }

    /// <summary>Whether this attempt redid work; a repeat without rework is a retest.</summary>
    public bool IsRework { get; init; }

    /// <summary>Named moments within the step.</summary>
    public IReadOnlyList<StepMark>? Marks { get; init; }

    /// <summary>Lots used; a quantity is that of one part, as values are: the balance of the lot counts it for each unit that is taken out.</summary>
    public IReadOnlyList<MaterialUse>? Materials { get; init; }

    /// <summary>Tools used, such as the oven.</summary>
    public IReadOnlyList<ToolUse>? Tools { get; init; }

    /// <summary>Values measured that hold for every part; each characteristic once.</summary>
    public IReadOnlyList<Measurement>? Measurements { get; init; }

    /// <summary>Pass/fail checks that hold for every part; each characteristic once.</summary>
    public IReadOnlyList<CheckResult>? Checks { get; init; }

    /// <summary>Free text; at most 2,000 characters.</summary>
    public string? Note { get; init; }
}

/// <summary>Nothing of the batch is left: its parts were serialised or thrown away.</summary>
public sealed record BatchEnded : FactMessage
{
    /// <summary>The batch.</summary>
    public required BatchRef Batch { get; init; }

    /// <summary>How many parts were thrown away, from 1; null: none, or nobody said.</summary>
    public int? Scrapped { get; init; }
}
