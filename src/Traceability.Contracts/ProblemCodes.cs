namespace Traceability.Contracts;

/// <summary>The stable codes of problems. Each is listed in contracts/problems.json with its meaning and what to do.</summary>
public static class ProblemCodes
{
    /// <summary>The person has approved the draft as it stands.</summary>
    public const string ApprovalGiven = "approval-given";

    /// <summary>The revision needs approvals that are not given.</summary>
    public const string ApprovalMissing = "approval-missing";

    /// <summary>Who wrote a draft can't approve it.</summary>
    public const string ApproverNotIndependent = "approver-not-independent";

    /// <summary>A draft does not say who wrote it, so nobody can be shown to be a second person.</summary>
    public const string AuthorNotNamed = "author-not-named";
    /// <summary>The file is not a whole one of the type that Content-Type says.</summary>
    public const string AttachmentMalformed = "attachment-malformed";

    /// <summary>No file with this hash is stored.</summary>
    public const string AttachmentUnknown = "attachment-unknown";

    /// <summary>The body is not the JSON that is taken here.</summary>
    public const string BodyMalformed = "body-malformed";

    /// <summary>The body is larger than is accepted.</summary>
    public const string BodyTooLarge = "body-too-large";

    /// <summary>The concession ends before what it is given for happened.</summary>
    public const string ConcessionNotCovering = "concession-not-covering";

    /// <summary>The containment was opened before.</summary>
    public const string ContainmentAlreadyOpened = "containment-already-opened";

    /// <summary>The containment is closed.</summary>
    public const string ContainmentClosed = "containment-closed";

    /// <summary>The containment can't be closed: members came late, and nobody has taken note of them.</summary>
    public const string ContainmentLateNotAcknowledged = "containment-late-not-acknowledged";

    /// <summary>The containment can't be closed: members have no final outcome.</summary>
    public const string ContainmentMembersOpen = "containment-members-open";

    /// <summary>The containment is not closed, so it can't be opened again.</summary>
    public const string ContainmentNotClosed = "containment-not-closed";

    /// <summary>The members of the containment are not all recorded, or can't all be read.</summary>
    public const string ContainmentNotScoped = "containment-not-scoped";

    /// <summary>The containment is not known.</summary>
    public const string ContainmentUnknown = "containment-unknown";

    /// <summary>The unit is no member of the containment.</summary>
    public const string UnitNotContained = "unit-not-contained";

    /// <summary>The item, routing, lot, tool, person, station or site that was asked for is not defined.</summary>
    public const string DefinitionUnknown = "definition-unknown";

    /// <summary>A fact with the same id and other content is recorded.</summary>
    public const string FactIdReused = "fact-id-reused";

    /// <summary>What was sent can't be read as a fact: every fault is listed.</summary>
    public const string FactMalformed = "fact-malformed";

    /// <summary>A re-certification would not extend the lot's shelf life.</summary>
    public const string ExpiryNotExtended = "expiry-not-extended";

    /// <summary>No fact with this id is recorded.</summary>
    public const string FactUnknown = "fact-unknown";

    /// <summary>The item is not known.</summary>
    public const string ItemUnknown = "item-unknown";

    /// <summary>The only administrator key in force can't be revoked.</summary>
    public const string KeyLastAdministrator = "key-last-administrator";

    /// <summary>The key can't be given as asked.</summary>
    public const string KeyMalformed = "key-malformed";

    /// <summary>The request came without a key.</summary>
    public const string KeyMissing = "key-missing";

    /// <summary>There is or was a key of this name.</summary>
    public const string KeyNameTaken = "key-name-taken";

    /// <summary>There is no key with this id.</summary>
    public const string KeyNotKnown = "key-not-known";

    /// <summary>The key is not known, or was revoked.</summary>
    public const string KeyUnknown = "key-unknown";

    /// <summary>The lot was received before.</summary>
    public const string LotAlreadyReceived = "lot-already-received";

    /// <summary>The lot's item asks for an inspection, and none is recorded.</summary>
    public const string LotNotInspected = "lot-not-inspected";

    /// <summary>The batch was formed or split off before.</summary>
    public const string BatchAlreadyFormed = "batch-already-formed";

    /// <summary>The batch was never formed or split off.</summary>
    public const string BatchUnknown = "batch-unknown";

    /// <summary>A lot can't be made of itself.</summary>
    public const string LotOfItself = "lot-of-itself";

    /// <summary>The item of the mix does not declare what it is mixed of.</summary>
    public const string MixNotDeclared = "mix-not-declared";

    /// <summary>A lot can't be made of a lot of another item.</summary>
    public const string LotOfOtherItem = "lot-of-other-item";

    /// <summary>The last inspection rejected the lot.</summary>
    public const string LotRejected = "lot-rejected";

    /// <summary>The lot is not known.</summary>
    public const string LotUnknown = "lot-unknown";

    /// <summary>The master-data file has errors: each is listed with its line.</summary>
    public const string MasterDataMalformed = "master-data-malformed";

    /// <summary>The body has a media type that is not read here.</summary>
    public const string MediaTypeUnsupported = "media-type-unsupported";

    /// <summary>The address does not take this method.</summary>
    public const string MethodNotAllowed = "method-not-allowed";

    /// <summary>The nonconformance is closed.</summary>
    public const string NonconformanceClosed = "nonconformance-closed";

    /// <summary>The nonconformance is decided already.</summary>
    public const string NonconformanceDisposed = "nonconformance-disposed";

    /// <summary>What the nonconformance rested on is not there any more.</summary>
    public const string NonconformanceMoot = "nonconformance-moot";

    /// <summary>The nonconformance is taken up already.</summary>
    public const string NonconformanceTakenUp = "nonconformance-taken-up";

    /// <summary>The unit has no such nonconformance.</summary>
    public const string NonconformanceUnknown = "nonconformance-unknown";

    /// <summary>What the address names is not known.</summary>
    public const string NotKnown = "not-known";

    /// <summary>The time of the fact is ahead of the service's clock.</summary>
    public const string OccurredInFuture = "occurred-in-future";

    /// <summary>A part of the address does not have its form.</summary>
    public const string PathInvalid = "path-invalid";

    /// <summary>A decision names no person.</summary>
    public const string PersonMissing = "person-missing";

    /// <summary>The person was not qualified to decide.</summary>
    public const string PersonNotQualified = "person-not-qualified";

    /// <summary>The person is not known.</summary>
    public const string PersonUnknown = "person-unknown";

    /// <summary>A value after the question mark does not have its form.</summary>
    public const string QueryInvalid = "query-invalid";

    /// <summary>A part of the question can't be read.</summary>
    public const string QuestionMalformed = "question-malformed";

    /// <summary>A rebuild is running: one runs at a time.</summary>
    public const string RebuildRunning = "rebuild-running";

    /// <summary>A correction can't be corrected.</summary>
    public const string RecordNotCorrectable = "record-not-correctable";

    /// <summary>The record that a correction names is not known.</summary>
    public const string RecordUnknown = "record-unknown";

    /// <summary>A release that needs approvals must say who releases.</summary>
    public const string ReleaserNotNamed = "releaser-not-named";

    /// <summary>The unit lacks something that a release needs: a step, an interval, a finding that stands, a hold, or the same of a unit inside it.</summary>
    public const string ReleaseBlocked = "release-blocked";

    /// <summary>The release that is asked for can't be read.</summary>
    public const string ReleaseMalformed = "release-malformed";

    /// <summary>Something was recorded about the unit, or a unit inside it, between its judging and its release.</summary>
    public const string ReleaseRecordChanged = "release-record-changed";

    /// <summary>The replacement is of another type than the record.</summary>
    public const string ReplacementOfOtherKind = "replacement-of-other-kind";

    /// <summary>The replacement is about another step than the record.</summary>
    public const string ReplacementOfOtherStep = "replacement-of-other-step";

    /// <summary>The replacement is about another subject than the record.</summary>
    public const string ReplacementOfOtherSubject = "replacement-of-other-subject";

    /// <summary>The request can't be read: a parameter, a header or the body.</summary>
    public const string RequestMalformed = "request-malformed";

    /// <summary>The request came too slowly.</summary>
    public const string RequestTimeout = "request-timeout";

    /// <summary>The revision is released and can't be changed.</summary>
    public const string RevisionReleased = "revision-released";

    /// <summary>The revision of the routing is not known.</summary>
    public const string RevisionUnknown = "revision-unknown";

    /// <summary>The key's role does not allow this.</summary>
    public const string RoleNotAllowed = "role-not-allowed";

    /// <summary>Nothing is at this address.</summary>
    public const string RouteUnknown = "route-unknown";

    /// <summary>Another question is saved under that name, or was saved meanwhile.</summary>
    public const string ScopeQuestionExists = "scope-question-exists";

    /// <summary>No question for a scope is saved under that name.</summary>
    public const string ScopeQuestionUnknown = "scope-question-unknown";

    /// <summary>The header Sent-At is not a time with its offset.</summary>
    public const string SentAtInvalid = "sent-at-invalid";

    /// <summary>There were too many wrong secrets in a row for this person's signature, so none is looked at for a while.</summary>
    public const string SigningLocked = "signing-locked";

    /// <summary>Something is in the way of the shipment of one unit or more.</summary>
    public const string ShipmentBlocked = "shipment-blocked";

    /// <summary>The shipment can't be read.</summary>
    public const string ShipmentMalformed = "shipment-malformed";

    /// <summary>The secret can't be set: its form is wrong.</summary>
    public const string SigningSecretMalformed = "signing-secret-malformed";

    /// <summary>The person has no secret to sign with.</summary>
    public const string SigningSecretNotSet = "signing-secret-not-set";

    /// <summary>The secret is not the signer's.</summary>
    public const string SigningSecretWrong = "signing-secret-wrong";

    /// <summary>The site is not known.</summary>
    public const string SiteUnknown = "site-unknown";

    /// <summary>A station's key may only report from its own station.</summary>
    public const string StationNotOwn = "station-not-own";

    /// <summary>The station is not known.</summary>
    public const string StationUnknown = "station-unknown";

    /// <summary>The unit does not have the step.</summary>
    public const string StepNotInRouting = "step-not-in-routing";

    /// <summary>The store can't be reached: send again, with the same id.</summary>
    public const string StoreUnavailable = "store-unavailable";

    /// <summary>The time zone is not known.</summary>
    public const string TimeZoneUnknown = "time-zone-unknown";

    /// <summary>The tool is out of use already.</summary>
    public const string ToolAlreadyWithdrawn = "tool-already-withdrawn";

    /// <summary>The tool is due, failed or was never calibrated, and needs to be calibrated before it is put back into use.</summary>
    public const string ToolNotInOrder = "tool-not-in-order";

    /// <summary>The tool is in use: there is no withdrawal to take back.</summary>
    public const string ToolNotWithdrawn = "tool-not-withdrawn";

    /// <summary>The tool is not known.</summary>
    public const string ToolUnknown = "tool-unknown";

    /// <summary>Something went wrong in the service.</summary>
    public const string Unexpected = "unexpected";

    /// <summary>The unit was opened before.</summary>
    public const string UnitAlreadyOpen = "unit-already-open";

    /// <summary>The unit has changed since the decision was made.</summary>
    public const string UnitChanged = "unit-changed";

    /// <summary>The unit was not released by that moment, so there is no as-built record of it.</summary>
    public const string UnitNotBuilt = "unit-not-built";

    /// <summary>A value's unit can't be converted into the one of its rule.</summary>
    public const string UnitOfMeasureWrong = "unit-of-measure-wrong";

    /// <summary>The unit is not known.</summary>
    public const string UnitUnknown = "unit-unknown";

    /// <summary>The item has no such variant.</summary>
    public const string VariantUnknown = "variant-unknown";
}
