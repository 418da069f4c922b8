using Traceability.Contracts.Figures;
using Traceability.Contracts.Scope;

namespace Traceability.Contracts.Containments;

/// <summary>What is sent to open a containment.</summary>
public sealed record ContainmentRequest
{
    /// <summary>The sender's own id of the opening: a UUID, chosen once and sent again with every retry.</summary>
    public required Guid FactId { get; init; }

    /// <summary>The number of the case, as the firm files it; 1 to 40 characters. Holds that it places bear this name.</summary>
    public required string Containment { get; init; }

    /// <summary>What it is called; 1 to 2,000 characters.</summary>
    public required string Title { get; init; }

    /// <summary>Why, in words; 1 to 2,000 characters.</summary>
    public required string Reason { get; init; }

    /// <summary>What is suspected, in the form of the questions for a scope.</summary>
    public required SuspectNode Suspect { get; init; }

    /// <summary>The code of the person who opens it.</summary>
    public required string Person { get; init; }

    /// <summary>Hold members that are found late, without being asked. Default: false.</summary>
    public bool HoldsLate { get; init; }
}

/// <summary>A containment in a list.</summary>
/// <param name="Containment">The number of the case.</param>
/// <param name="Title">What it is called.</param>
/// <param name="State">open or closed.</param>
/// <param name="QuestionInWords">What is suspected, in words.</param>
/// <param name="OpenedAt">When it was opened.</param>
/// <param name="OpenedBy">The person who opened it.</param>
/// <param name="ClosedAt">When it was closed; null while it is open.</param>
/// <param name="Members">How many members it has.</param>
/// <param name="MembersOpen">How many of them have no final outcome.</param>
/// <param name="LateNotAcknowledged">How many came late, and nobody has taken note of them.</param>
public sealed record ContainmentSummary(
    string Containment,
    string Title,
    string State,
    string QuestionInWords,
    DateTimeOffset OpenedAt,
    string? OpenedBy,
    DateTimeOffset? ClosedAt,
    int Members,
    int MembersOpen,
    int LateNotAcknowledged);

/// <summary>A page of containments, newest first.</summary>
/// <param name="AsOf">The moment of asking.</param>
/// <param name="Containments">The containments.</param>
/// <param name="After">Give this as "after" to get the next page; null on the last.</param>
public sealed record ContainmentPage(DateTimeOffset AsOf, IReadOnlyList<ContainmentSummary> Containments, string? After);

/// <summary>A run of the question.</summary>
/// <param name="Run">Which run it was; 1 froze the scope.</param>
/// <param name="AsOf">The moment of the run.</param>
/// <param name="IsComplete">Every record that it rests on could be read, and every judgement in it was up to date.</param>
/// <param name="MemberCount">How many units were reached.</param>
/// <param name="Added">How many of them were no members before.</param>
/// <param name="Changed">How many were members with another verdict, or as no longer reached.</param>
/// <param name="NotReached">How many members are no longer reached. They stay members until an outcome says otherwise.</param>
/// <param name="Remarks">What must be known of the answer, in words.</param>
public sealed record ContainmentRunView(
    int Run, DateTimeOffset AsOf, bool IsComplete, int MemberCount, int Added, int Changed, int NotReached, IReadOnlyList<string> Remarks);

/// <summary>A person's word on whether the case is closed.</summary>
/// <param name="Record">The fact.</param>
/// <param name="At">When.</param>
/// <param name="Person">Who.</param>
/// <param name="Words">The conclusion, or why it was opened again.</param>
/// <param name="Lacking">Of a closing: how many members had no final outcome then, by what is recorded now. Above 0 it does not stand.</param>
public sealed record ContainmentWordView(Guid Record, DateTimeOffset At, string? Person, string Words, int Lacking);

/// <summary>How many members something holds of.</summary>
/// <param name="Name">What.</param>
/// <param name="Count">How many.</param>
public sealed record NamedCount(string Name, int Count);

/// <summary>The time from the opening of the case until a member was held or first followed up, whichever came first.</summary>
/// <param name="Count">How many members that holds of.</param>
/// <param name="Median">The median, an ISO 8601 duration; null for none.</param>
/// <param name="Longest">The longest; null for none.</param>
public sealed record TimeToContainView(int Count, string? Median, string? Longest);

/// <summary>Figures of a containment.</summary>
/// <param name="Members">How many members it has.</param>
/// <param name="Verdicts">proven, possible, not-reached (no longer).</param>
/// <param name="Places">Where they are now: the outermost unit that each is inside of.</param>
/// <param name="Outcomes">The last outcome of those that have one.</param>
/// <param name="Held">How many a hold in the name of the case stops now.</param>
/// <param name="WithOutcome">How many have any outcome.</param>
/// <param name="Open">How many have no final outcome.</param>
/// <param name="Late">How many came late.</param>
/// <param name="LateNotAcknowledged">Of those, how many nobody has taken note of.</param>
/// <param name="Effectiveness">The share of members with a final outcome.</param>
/// <param name="Left">How many have left, by where they are now.</param>
/// <param name="EffectivenessOfLeft">Of those that have left, the share with a final outcome.</param>
/// <param name="OutcomesOfLeft">Of those that have left, the last outcome of those that have one.</param>
/// <param name="TimeToContain">From opening to hold or first follow-up.</param>
public sealed record ContainmentFiguresView(
    int Members,
    IReadOnlyList<NamedCount> Verdicts,
    IReadOnlyList<NamedCount> Places,
    IReadOnlyList<NamedCount> Outcomes,
    int Held,
    int WithOutcome,
    int Open,
    int Late,
    int LateNotAcknowledged,
    Share Effectiveness,
    int Left,
    Share EffectivenessOfLeft,
    IReadOnlyList<NamedCount> OutcomesOfLeft,
    TimeToContainView TimeToContain);

/// <summary>A containment. It says what was recorded, never that a unit is safe.</summary>
/// <param name="AsOf">The moment of asking.</param>
/// <param name="Containment">The number of the case.</param>
/// <param name="Title">What it is called.</param>
/// <param name="Reason">Why it was opened.</param>
/// <param name="State">open or closed.</param>
/// <param name="OpenedAt">When it was opened.</param>
/// <param name="OpenedBy">The person who opened it.</param>
/// <param name="Suspect">What is suspected.</param>
/// <param name="QuestionInWords">The same in words.</param>
/// <param name="HoldsLate">Members that are found late are held without being asked.</param>
/// <param name="IsScoped">The first run has ended: all members that it found are recorded.</param>
/// <param name="HasUnreadable">Some stored fact of the case can't be read: members or outcomes may be missing.</param>
/// <param name="Figures">Its figures.</param>
/// <param name="Runs">The runs that found something, first to last.</param>
/// <param name="Words">The closings and reopenings, first to last.</param>
/// <param name="Completeness">What may be missing from where the members are now.</param>
public sealed record ContainmentView(
    DateTimeOffset AsOf,
    string Containment,
    string Title,
    string Reason,
    string State,
    DateTimeOffset OpenedAt,
    string? OpenedBy,
    SuspectNode Suspect,
    string QuestionInWords,
    bool HoldsLate,
    bool IsScoped,
    bool HasUnreadable,
    ContainmentFiguresView Figures,
    IReadOnlyList<ContainmentRunView> Runs,
    IReadOnlyList<ContainmentWordView> Words,
    Completeness Completeness);

/// <summary>What a refresh found.</summary>
/// <param name="AsOf">The moment of the run.</param>
/// <param name="IsComplete">Every record that it rests on could be read, and every judgement in it was up to date.</param>
/// <param name="MemberCount">How many units were reached.</param>
/// <param name="Added">How many of them were no members before.</param>
/// <param name="Changed">How many were members with another verdict, or as no longer reached.</param>
/// <param name="NotReached">How many members are no longer reached.</param>
/// <param name="Remarks">What must be known of the answer, in words.</param>
public sealed record ContainmentRefreshed(
    DateTimeOffset AsOf, bool IsComplete, int MemberCount, int Added, int Changed, int NotReached, IReadOnlyList<string> Remarks);
