using Traceability.Contracts.Facts;

namespace Traceability.Contracts.Definitions;

/// <summary>An item.</summary>
/// <param name="Item">Item number.</param>
/// <param name="Kind">part, consumable, subassembly or product.</param>
/// <param name="Description">What it is, in words.</param>
/// <param name="Variants">Its variants.</param>
/// <param name="LifeAfterOpening">How long a container may be used after it was opened; null: as long as its lot.</param>
public sealed record ItemView(string Item, ItemKind Kind, string Description, IReadOnlyList<string> Variants, TimeSpan? LifeAfterOpening)
{
    /// <summary>How long it takes to cure, by temperature; null: not known, or it doesn't cure.</summary>
    public CureTable? Cure { get; init; }

    /// <summary>Whether a lot of it may be used only once an inspection has accepted it.</summary>
    public bool NeedsInspection { get; init; }

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

    /// <summary>How many people must approve a revision of its routing; null: none.</summary>
    public int? ApprovalsNeeded { get; init; }
}

/// <summary>A site.</summary>
/// <param name="Site">Site code.</param>
/// <param name="Description">What it is, in words.</param>
/// <param name="TimeZone">Its IANA time zone; days in answers are its calendar days.</param>
public sealed record SiteView(string Site, string Description, string TimeZone);

/// <summary>A station.</summary>
/// <param name="Station">Station code.</param>
/// <param name="Site">The site that it belongs to.</param>
/// <param name="Description">What it is, in words.</param>
public sealed record StationView(string Station, string Site, string Description);

/// <summary>A defect code.</summary>
/// <param name="Defect">The code.</param>
/// <param name="Description">What it means.</param>
public sealed record DefectView(string Defect, string Description);

/// <summary>A tool.</summary>
/// <param name="Tool">Tool number.</param>
/// <param name="ToolClass">Its class.</param>
/// <param name="Description">What it is, in words.</param>
/// <param name="NeedsCalibration">Whether it may be used only while calibrated.</param>
/// <param name="Calibrations">Its calibrations, oldest first.</param>
/// <param name="Settings">Torques measured at its settings, oldest first.</param>
/// <param name="CalibrationInterval">How long a calibration holds that doesn't say until when; null: until the next one.</param>
public sealed record ToolView(
    string Tool,
    string ToolClass,
    string Description,
    bool NeedsCalibration,
    IReadOnlyList<CalibrationView> Calibrations,
    IReadOnlyList<VerifiedSettingView> Settings,
    TimeSpan? CalibrationInterval);

/// <summary>One calibration.</summary>
/// <param name="Record">Id of the fact.</param>
/// <param name="At">When.</param>
/// <param name="FoundGood">Within limits as found.</param>
/// <param name="LeftGood">Within limits as left.</param>
/// <param name="ValidUntil">End of validity.</param>
/// <param name="Certificate">Number of the certificate.</param>
/// <param name="Points">What was measured, as found and as left.</param>
public sealed record CalibrationView(
    Guid Record, DateTimeOffset At, bool FoundGood, bool LeftGood, DateTimeOffset? ValidUntil, string? Certificate, IReadOnlyList<CalibrationPoint> Points);

/// <summary>A torque measured at a setting.</summary>
/// <param name="Record">Id of the fact.</param>
/// <param name="At">When.</param>
/// <param name="Setting">The setting.</param>
/// <param name="Torque">The torque.</param>
/// <param name="ValidUntil">Until when it may be relied on.</param>
/// <param name="Uncertainty">Its expanded uncertainty (coverage factor 2); null: not stated.</param>
public sealed record VerifiedSettingView(
    Guid Record, DateTimeOffset At, string Setting, QuantityValue Torque, DateTimeOffset? ValidUntil, QuantityValue? Uncertainty);

/// <summary>A person.</summary>
/// <param name="Person">Person code.</param>
/// <param name="DisplayName">What to show.</param>
/// <param name="Qualifications">What was granted and withdrawn, oldest first.</param>
public sealed record PersonView(string Person, string DisplayName, IReadOnlyList<QualificationView> Qualifications)
{
    /// <summary>Trainings, oldest first.</summary>
    public IReadOnlyList<TrainingView> Trainings { get; init; } = [];
}

/// <summary>A training that a person completed.</summary>
/// <param name="Record">Id of the fact.</param>
/// <param name="At">When.</param>
/// <param name="Topic">The course or topic.</param>
/// <param name="Trainer">Code of the person who trained, if any.</param>
/// <param name="Evidence">Where it can be seen.</param>
/// <param name="Grants">Codes of the qualifications that follow.</param>
/// <param name="ValidUntil">When it must be refreshed; null: never.</param>
public sealed record TrainingView(
    Guid Record, DateTimeOffset At, string Topic, string? Trainer, string? Evidence, IReadOnlyList<string> Grants, DateTimeOffset? ValidUntil);

/// <summary>A qualification, granted or withdrawn.</summary>
/// <param name="Record">Id of the fact.</param>
/// <param name="At">From when on.</param>
/// <param name="Qualification">What for.</param>
/// <param name="IsGranted">Granted, else withdrawn.</param>
/// <param name="ValidUntil">Until when, if granted for a time.</param>
public sealed record QualificationView(Guid Record, DateTimeOffset At, string Qualification, bool IsGranted, DateTimeOffset? ValidUntil);

/// <summary>A lot.</summary>
/// <param name="Item">Item number.</param>
/// <param name="Lot">Lot number.</param>
/// <param name="SupplierLot">The supplier's own lot.</param>
/// <param name="Quantity">How much came in.</param>
/// <param name="ReceivedAt">When it came in, or was made of others.</param>
/// <param name="ExpiresAt">End of shelf life that counts now.</param>
/// <param name="IsReleased">Whether it may be used at the moment of asking (its end of shelf life apart).</param>
/// <param name="Containers">Its containers that were opened.</param>
public sealed record LotView(
    string Item,
    string Lot,
    string? SupplierLot,
    QuantityValue? Quantity,
    DateTimeOffset ReceivedAt,
    DateTimeOffset? ExpiresAt,
    bool IsReleased,
    IReadOnlyList<ContainerView> Containers)
{
    /// <summary>Who supplied it.</summary>
    public string? Supplier { get; init; }

    /// <summary>received, awaiting-inspection, released, quarantined, rejected or emptied, at the moment of asking.</summary>
    public required string State { get; init; }

    /// <summary>Its inspections, oldest first.</summary>
    public IReadOnlyList<LotInspectionView> Inspections { get; init; } = [];

    /// <summary>What was said of its end of shelf life, oldest first.</summary>
    public IReadOnlyList<LotExpiryView> Expiries { get; init; } = [];

    /// <summary>Counts of what is there, oldest first.</summary>
    public IReadOnlyList<StockCountView> Counts { get; init; } = [];

    /// <summary>The lots that it was made of directly, as item/lot.</summary>
    public IReadOnlyList<string> MadeOf { get; init; } = [];

    /// <summary>How many units' records name it; null in a list.</summary>
    public int? UsingUnits { get; init; }
}

/// <summary>An inspection of a lot.</summary>
/// <param name="Record">Id of the fact.</param>
/// <param name="At">When.</param>
/// <param name="Accepted">Whether it accepted the lot.</param>
/// <param name="SampleCount">How many pieces were looked at.</param>
/// <param name="Results">What was looked at, and how that came out.</param>
/// <param name="Certificate">The certificate, by reference.</param>
/// <param name="Note">Free text.</param>
public sealed record LotInspectionView(
    Guid Record, DateTimeOffset At, bool Accepted, int? SampleCount, IReadOnlyList<LotInspectionResult> Results, string? Certificate, string? Note);

/// <summary>Something that was said of a lot's end of shelf life.</summary>
/// <param name="Record">Id of the fact.</param>
/// <param name="At">When.</param>
/// <param name="Kind">received, set (it holds for the lot's whole life), recertified (it holds from then on) or taken-over (from a lot that it was made of).</param>
/// <param name="ExpiresAt">The end; null: none was said.</param>
/// <param name="Evidence">What shows it, or why.</param>
/// <param name="AuthorisedBy">Who authorised it.</param>
public sealed record LotExpiryView(Guid Record, DateTimeOffset At, string Kind, DateTimeOffset? ExpiresAt, string? Evidence, string? AuthorisedBy);

/// <summary>A count of what is there.</summary>
/// <param name="Record">Id of the fact.</param>
/// <param name="At">When.</param>
/// <param name="Container">The container that was counted; null: the whole lot.</param>
/// <param name="Quantity">How much was there.</param>
/// <param name="Gain">What was booked in.</param>
/// <param name="Loss">What was booked out.</param>
/// <param name="Reason">Why.</param>
public sealed record StockCountView(
    Guid Record, DateTimeOffset At, string? Container, QuantityValue Quantity, QuantityValue? Gain, QuantityValue? Loss, string? Reason);

/// <summary>A container of a lot.</summary>
/// <param name="Container">Container number.</param>
/// <param name="OpenedAt">When it was opened.</param>
/// <param name="EmptiedAt">When it was used up or thrown away.</param>
public sealed record ContainerView(string Container, DateTimeOffset OpenedAt, DateTimeOffset? EmptiedAt)
{
    /// <summary>How much was in it.</summary>
    public QuantityValue? Quantity { get; init; }

    /// <summary>How much of it was thrown away.</summary>
    public QuantityValue? Discarded { get; init; }
}

/// <summary>The routing of an item.</summary>
/// <param name="Item">Item number.</param>
/// <param name="Released">Released revisions, oldest release first. They can't be changed.</param>
/// <param name="Drafts">Revisions that are not released.</param>
public sealed record RoutingView(string Item, IReadOnlyList<RoutingRevision> Released, IReadOnlyList<RoutingRevision> Drafts)
{
    /// <summary>Who wrote, approved and released each revision.</summary>
    public IReadOnlyList<RevisionLifeView> Lives { get; init; } = [];

    /// <summary>Which items may be put in where a revision names another one, by decision, oldest first.</summary>
    public IReadOnlyList<ReplacementView> Replacements { get; init; } = [];
}

/// <summary>An item that may be put in where the routing names another one, by a person's decision.</summary>
/// <param name="Record">Id of the fact.</param>
/// <param name="Replaced">The item that the routing names.</param>
/// <param name="With">The item that may take its place.</param>
/// <param name="Revisions">The revisions in which it may; none: in all.</param>
/// <param name="From">The first moment at which it may be put in.</param>
/// <param name="Reason">Why.</param>
/// <param name="AuthorisedBy">Code of the person who decided.</param>
public sealed record ReplacementView(
    Guid Record, string Replaced, string With, IReadOnlyList<string> Revisions, DateTimeOffset From, string Reason, string AuthorisedBy);

/// <summary>Who wrote, approved and released one revision.</summary>
/// <param name="Revision">The revision.</param>
/// <param name="State">draft, approved (a draft with an approval that stands) or released.</param>
/// <param name="Authors">Codes of everyone who wrote any version of the draft.</param>
/// <param name="IsAuthorUnknown">Some version of the draft names nobody.</param>
/// <param name="Approvals">Approvals that stand, or that stood when it was released.</param>
/// <param name="ReleasedBy">Code of the person who released it; null while it is a draft, and where nobody is named.</param>
/// <param name="ReleasedAt">When; null while it is a draft.</param>
public sealed record RevisionLifeView(
    string Revision,
    string State,
    IReadOnlyList<string> Authors,
    bool IsAuthorUnknown,
    IReadOnlyList<ApprovalView> Approvals,
    string? ReleasedBy,
    DateTimeOffset? ReleasedAt);

/// <summary>One approval of a draft.</summary>
/// <param name="Record">Id of the fact.</param>
/// <param name="ApprovedBy">Code of the person.</param>
/// <param name="At">When.</param>
public sealed record ApprovalView(Guid Record, string ApprovedBy, DateTimeOffset At);

/// <summary>A list.</summary>
/// <typeparam name="T">Of what.</typeparam>
/// <param name="Entries">The entries, in the order of their codes.</param>
/// <param name="After">Give this as "after" to get the next page; null on the last.</param>
public sealed record DefinitionPage<T>(IReadOnlyList<T> Entries, string? After);
