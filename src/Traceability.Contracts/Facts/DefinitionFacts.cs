namespace Traceability.Contracts.Facts;

/// <summary>A person was made known by a code.</summary>
public sealed record PersonDefined : FactMessage
{
    /// <summary>The code of the person who is described.</summary>
    public required string Subject { get; init; }

    /// <summary>What to show; may be a code too.</summary>
    public required string DisplayName { get; init; }
}

/// <summary>A person is qualified from here on.</summary>
public sealed record QualificationGranted : FactMessage
{
    /// <summary>The code of the person who is described.</summary>
    public required string Subject { get; init; }

    /// <summary>What for.</summary>
    public required string Qualification { get; init; }

    /// <summary>Until when; null: until withdrawn.</summary>
    public DateTimeOffset? ValidUntil { get; init; }
}

/// <summary>A person completed a training. It grants the qualifications that it names, from then on and for as long as it is valid.</summary>
public sealed record TrainingCompleted : FactMessage
{
    /// <summary>The code of the person who was trained.</summary>
    public required string Subject { get; init; }

    /// <summary>The course or topic.</summary>
    public required string Topic { get; init; }

    /// <summary>The code of the person who trained; null where nobody did.</summary>
    public string? Trainer { get; init; }

    /// <summary>Where it can be seen: a certificate, a test, a signed list; at most 2,000 characters.</summary>
    public string? Evidence { get; init; }

    /// <summary>Codes of the qualifications that follow; none: the training is a record only.</summary>
    public IReadOnlyList<string>? Grants { get; init; }

    /// <summary>When it must be refreshed; null: never.</summary>
    public DateTimeOffset? ValidUntil { get; init; }
}

/// <summary>A person is no longer qualified from here on.</summary>
public sealed record QualificationWithdrawn : FactMessage
{
    /// <summary>The code of the person who is described.</summary>
    public required string Subject { get; init; }

    /// <summary>What for.</summary>
    public required string Qualification { get; init; }

    /// <summary>Why, in words; 1 to 2,000 characters.</summary>
    public required string Reason { get; init; }
}

/// <summary>A site was described, first or anew.</summary>
public sealed record SiteDefined : FactMessage
{
    /// <summary>The site's code.</summary>
    public required string Site { get; init; }

    /// <summary>What it is, in words; 1 to 2,000 characters.</summary>
    public required string Description { get; init; }

    /// <summary>Its IANA time zone, such as Europe/Lisbon: days in answers are the site's calendar days.</summary>
    public required string TimeZone { get; init; }
}

/// <summary>A station was described, first or anew.</summary>
public sealed record StationDefined : FactMessage
{
    /// <summary>The code of the station that is described.</summary>
    public required string Subject { get; init; }

    /// <summary>The code of the site that it belongs to.</summary>
    public required string Site { get; init; }

    /// <summary>What it is, in words; 1 to 2,000 characters.</summary>
    public required string Description { get; init; }
}

/// <summary>An item was described, first or anew.</summary>
public sealed record ItemDefined : FactMessage
{
    /// <summary>The item's number.</summary>
    public required string Item { get; init; }

    /// <summary>Its kind.</summary>
    public required ItemKind Kind { get; init; }

    /// <summary>What it is, in words; 1 to 2,000 characters.</summary>
    public required string Description { get; init; }

    /// <summary>Its variants; none for an item without.</summary>
    public IReadOnlyList<string>? Variants { get; init; }

    /// <summary>How long a container may be used after it was opened; null: as long as its lot. Written as an ISO 8601 duration.</summary>
    public TimeSpan? LifeAfterOpening { get; init; }

    /// <summary>For a consumable: how long it takes to cure, by temperature; null: not known, or it doesn't cure.</summary>
    public CureTable? Cure { get; init; }

    /// <summary>Whether a lot of it may be used only once an inspection has accepted it; left out: no.</summary>
    public bool? NeedsInspection { get; init; }

    /// <summary>How many people beside its authors and whoever releases it must approve a revision of the routing, 1 to 9; null: none.</summary>
    public int? ApprovalsNeeded { get; init; }

    /// <summary>What it is mixed of; null: it is not mixed here.</summary>
    public Mixture? Mix { get; init; }

    /// <summary>For a mix: how long it may be used from the mixing on; null: as long as its parts. Written as an ISO 8601 duration.</summary>
    public TimeSpan? PotLife { get; init; }

    /// <summary>The same by temperature; PotLife holds where there are no readings.</summary>
    public LifeTable? PotLifeByTemperature { get; init; }

    /// <summary>LifeAfterOpening by temperature; that one holds where there are no readings.</summary>
    public LifeTable? OpenedLifeByTemperature { get; init; }

    /// <summary>How long it may lie open, from where it was applied until the parts are joined, by temperature; a routing's interval refers to it with openTimeOf. Null: not known.</summary>
    public LifeTable? OpenTimeByTemperature { get; init; }
}

/// <summary>A defect code was described, first or anew.</summary>
public sealed record DefectCodeDefined : FactMessage
{
    /// <summary>The defect's code.</summary>
    public required string Defect { get; init; }

    /// <summary>What it is, in words; 1 to 2,000 characters.</summary>
    public required string Description { get; init; }
}

/// <summary>The kinds of item.</summary>
public enum ItemKind
{
    /// <summary>A part that is bought or made.</summary>
    Part,

    /// <summary>Adhesive, lubricant, tape: used up.</summary>
    Consumable,

    /// <summary>Built here and put into something else.</summary>
    Subassembly,

    /// <summary>Built here and shipped.</summary>
    Product,
}
