namespace Traceability.Contracts.Facts;

/// <summary>Another fact is replaced, as judgements see it, by what should have been reported.</summary>
public sealed record RecordCorrected : FactMessage
{
    /// <summary>The id of the fact that is corrected.</summary>
    public required Guid Record { get; init; }

    /// <summary>What should have been reported, whole, without id; of the corrected fact's own type and subject.</summary>
    public required FactMessage Replacement { get; init; }

    /// <summary>Why, in words; 1 to 2,000 characters.</summary>
    public required string Reason { get; init; }

    /// <summary>The code of the person who authorised it.</summary>
    public required string AuthorisedBy { get; init; }
}

/// <summary>Another fact no longer counts, as judgements see it. A voided void restores what it voided.</summary>
public sealed record RecordVoided : FactMessage
{
    /// <summary>The id of the fact that no longer counts.</summary>
    public required Guid Record { get; init; }

    /// <summary>Why, in words; 1 to 2,000 characters.</summary>
    public required string Reason { get; init; }

    /// <summary>The code of the person who authorised it.</summary>
    public required string AuthorisedBy { get; init; }
}
