using System.Globalization;
using Traceability.Contracts;
using Traceability.Contracts.Containments;
using Traceability.Contracts.Facts;
using Traceability.Contracts.Figures;

namespace Traceability.Service.Features.Containments.Report;

/// <summary>Everything that a report of a case says, from one snapshot.</summary>
/// <param name="Case">The case.</param>
/// <param name="Members">All members, by unit.</param>
/// <param name="Consignees">Who has which of them.</param>
internal sealed record CaseContent(ContainmentView Case, IReadOnlyList<ContainmentMemberView> Members, IReadOnlyList<ConsigneeView> Consignees);

/// <summary>Puts a case into words and tables. It states what was recorded, never that a unit is safe.</summary>
internal static class CaseReport
{
    private const string Statement =
        "This report states what was recorded against which question. It does not state that any unit is safe or fit for use. "
        + "Missing evidence does not clear a unit: a unit is 'possible' where a record is missing and the suspect could have been used.";

    /// <summary>The document: what stands against relying on it, what is open, then how it came to that, and the long lists last.</summary>
    public static ReportDocument Of(CaseContent content)
    {
        var view = content.Case;
        return new($"Containment {view.Containment}: {view.Title}",
        [
            Question(view),
            OpenPoints(content),
            Figures(view.Figures),
            Late(content.Members),
            Consignees(content.Consignees),
            Runs(view),
            Closing(view),
            Members(content.Members),
            .. content.Consignees.Count == 0 ? Array.Empty<ReportSection>() : [Shipped(content.Consignees)],
            Holds(content.Members),
            Outcomes(content.Members),
        ])
        {
            Warnings = Warnings(view),
            Foot = $"Containment {view.Containment}, as of {Time(view.AsOf)}",
        };
    }

    /// <summary>A time as reports write it: UTC, to the second.</summary>
    public static string Time(DateTimeOffset? at) => at is { } time ? time.UtcDateTime.ToString("yyyy-MM-dd HH:mm:ss'Z'", CultureInfo.InvariantCulture) : string.Empty;

    /// <summary>A unit as item/serial.</summary>
    public static string Unit(UnitRef unit) => $"{unit.Item}/{unit.Serial}";

    private static ImmutableArray<string> Warnings(ContainmentView view) =>
    [
        .. view.IsScoped ? Array.Empty<string>() : ["THE FIRST RUN HAS NOT ENDED: members are missing from this report."],
        .. view.HasUnreadable ? ["SOME STORED FACTS OF THIS CASE CAN'T BE READ: members or outcomes may be missing."] : Array.Empty<string>(),
        .. view.Completeness.IsComplete ? Array.Empty<string>() :
        [
            Text($"THE PLACES MAY BE INCOMPLETE: {view.Completeness.UnreadableUnits} units and {view.Completeness.UnreadableRecords} records are touched by something that can't be read, and {view.Completeness.RejudgementsPending} units wait to be judged again."),
        ],
        .. view.Runs.Where(r => !r.IsComplete).Select(r => Text($"RUN {r.Run} OF {Time(r.AsOf)} COULD NOT READ EVERYTHING: units may be missing that it should have reached.")),
    ];

    private static ReportSection Question(ContainmentView view) => new("Question",
    [
        $"Suspect: {view.QuestionInWords}.",
        $"Reason: {view.Reason}",
        $"State: {view.State}. Opened {Time(view.OpenedAt)} by {view.OpenedBy ?? "nobody named"}. This report is as of {Time(view.AsOf)}; all times are UTC.",
        Statement,
    ], null);

    // What a person has to do something about, before any figure.
    private static ReportSection OpenPoints(CaseContent content)
    {
        var open = content.Members.Where(m => m.Outcome is not { IsFinal: true }).ToArray();
        var loose = open.Count(m => !m.IsHeldByCase && m.Now.Place is not ("shipped" or "scrapped"));
        var late = content.Members.Count(m => m.IsLate && !m.IsAcknowledged);
        var away = content.Consignees.Select(c => (c.Consignee, Count: c.Members.Count(m => m.Outcome is not { IsFinal: true }))).Where(c => c.Count > 0).ToArray();
        ImmutableArray<string> points =
        [
            .. open.Length == 0 ? Array.Empty<string>() : [Text($"{open.Length} of {content.Members.Count} members have no final outcome. They are now: {Places(open)}.")],
            .. loose == 0 ? Array.Empty<string>() : [Text($"{loose} of them are on site and not stopped by this case: set its holds.")],
            .. away.Length == 0 ? Array.Empty<string>() : [Text($"{away.Sum(c => c.Count)} of them are with {away.Length} {(away.Length == 1 ? "consignee" : "consignees")}: see Consignees.")],
            .. late == 0 ? Array.Empty<string>() : [Text($"{late} members came late, and nobody has taken note of them: see What came late.")],
        ];
        return new("Open points", points.IsEmpty ? ["None is recorded: every member has a final outcome, and those that came late were taken note of."] : points, null);
    }

    private static string Places(IEnumerable<ContainmentMemberView> members) =>
        string.Join(", ", members.GroupBy(m => m.Now.Place, StringComparer.Ordinal).OrderBy(g => g.Key, StringComparer.Ordinal).Select(g => Text($"{g.Key} {g.Count()}")));

    private static ReportSection Figures(ContainmentFiguresView figures) => new("Figures", [],
        new(["Figure", "Value"],
        [
            ["Members", Text($"{figures.Members}")],
            ["By verdict", Counts(figures.Verdicts)],
            ["By place now", Counts(figures.Places)],
            ["Stopped by this case now", Text($"{figures.Held}")],
            ["With any outcome", Text($"{figures.WithOutcome}")],
            ["Without a final outcome", Text($"{figures.Open}")],
            ["Effectiveness: with a final outcome", Share(figures.Effectiveness)],
            ["Left", Text($"{figures.Left}")],
            ["Of those that left, with a final outcome", Share(figures.EffectivenessOfLeft)],
            ["Of those that left, last outcomes", Counts(figures.OutcomesOfLeft)],
            ["Came late", Text($"{figures.Late}, of which not acknowledged {figures.LateNotAcknowledged}")],
            ["Time from opening to hold or first follow-up", figures.TimeToContain.Count == 0 ? "none yet" : Text($"median {Duration(figures.TimeToContain.Median)}, longest {Duration(figures.TimeToContain.Longest)}, over {figures.TimeToContain.Count} members")],
        ]));

    private static ReportSection Members(IReadOnlyList<ContainmentMemberView> members) => new("Members",
        ["Every unit that is or was reached, with the reason as the run that found it told, and where it is now. Those without a final outcome come first."],
        new(
            ["Unit", "Verdict", "Now", "Holds now", "Outcome", "Reason", "Found"],
            [
                .. members.OrderBy(m => m.Outcome is { IsFinal: true }).Select(m => ImmutableArray.Create(
                    Unit(m.Unit),
                    m.Verdict,
                    Place(m.Now),
                    string.Join(", ", m.Holds),
                    Outcome(m.Outcome),
                    m.Why ?? string.Empty,
                    Text($"run {m.Run}, {Time(m.FoundAt)}, then {m.PlaceFound}"))),
            ]));

    private static ReportSection Consignees(IReadOnlyList<ConsigneeView> consignees) => consignees.Count == 0
        ? new("Consignees", ["No member is recorded as shipped now."], null)
        : new("Consignees", ["Who has members that are recorded as shipped now."], new(
            ["Consignee", "Members", "Without a final outcome", "Nothing recorded yet"],
            [
                .. consignees.OrderBy(c => c.Consignee, StringComparer.Ordinal).Select(Consignee),
            ]));

    private static ImmutableArray<string> Consignee(ConsigneeView consignee) =>
    [
        consignee.Consignee,
        Text($"{consignee.Members.Count}"),
        Text($"{consignee.Members.Count(m => m.Outcome is not { IsFinal: true })}"),
        Text($"{consignee.Members.Count(m => m.Outcome is null)}"),
    ];

    private static ReportSection Shipped(IReadOnlyList<ConsigneeView> consignees) => new("What each consignee has", [], new(
        ["Consignee", "Unit", "Shipped as", "Shipped at", "Order", "Verdict", "Outcome"],
        [
            .. consignees.SelectMany(c => c.Members.Select(m => ImmutableArray.Create(
                c.Consignee, Unit(m.Unit), Unit(m.Shipped), Time(m.ShippedAt), m.OrderReference ?? string.Empty, m.Verdict, Outcome(m.Outcome)))),
        ]));

    private static string Outcome(MemberOutcomeView? outcome) => outcome is { } o ? $"{o.Outcome}{(o.IsFinal ? string.Empty : " (not final)")}" : "none recorded";

    private static ReportSection Holds(IReadOnlyList<ContainmentMemberView> members)
    {
        var held = members.Where(m => m.HeldAt is not null).ToArray();
        return held.Length == 0
            ? new("Holds", ["No hold in the name of this case is recorded."], null)
            : new("Holds", [], new(["Unit", "Stopped at", "Lifted at", "Stopped by this case now"], [.. held.Select(m => ImmutableArray.Create(Unit(m.Unit), Time(m.HeldAt), Time(m.LiftedAt), m.IsHeldByCase ? "yes" : "no"))]));
    }

    private static ReportSection Outcomes(IReadOnlyList<ContainmentMemberView> members)
    {
        var done = members.Where(m => m.Outcome is not null).ToArray();
        return done.Length == 0
            ? new("Outcomes", ["Nothing is recorded of following up a member."], null)
            : new("Outcomes", ["The last outcome of each member."], new(
                ["Unit", "Outcome", "Final", "At", "By", "Note", "Evidence"],
                [
                    .. done.Select(m => ImmutableArray.Create(
                        Unit(m.Unit), m.Outcome!.Outcome, m.Outcome.IsFinal ? "yes" : "no", Time(m.Outcome.At), m.Outcome.Person ?? string.Empty, m.Outcome.Note ?? string.Empty, string.Join(", ", m.Outcome.Evidence))),
                ]));
    }

    private static ReportSection Late(IReadOnlyList<ContainmentMemberView> members)
    {
        var late = members.Where(m => m.IsLate).ToArray();
        return late.Length == 0
            ? new("What came late", ["No member was found after the scope was frozen."], null)
            : new("What came late", ["Members that were found after the scope was frozen, and the record that each rests on."], new(
                ["Unit", "Run", "Found at", "Record", "Acknowledged"],
                [.. late.Select(m => ImmutableArray.Create(Unit(m.Unit), Text($"{m.Run}"), Time(m.FoundAt), m.Evidence?.ToString() ?? "none: a record is missing", m.IsAcknowledged ? "yes" : "no"))]));
    }

    private static ReportSection Runs(ContainmentView view) => new("Runs of the question",
        [.. view.Runs.SelectMany(r => r.Remarks.Select(m => Text($"Run {r.Run}: {m}"))).Distinct(StringComparer.Ordinal)],
        new(
            ["Run", "As of", "Complete", "Reached", "Added", "Changed", "No longer reached"],
            [.. view.Runs.Select(r => ImmutableArray.Create(Text($"{r.Run}"), Time(r.AsOf), r.IsComplete ? "yes" : "no", Text($"{r.MemberCount}"), Text($"{r.Added}"), Text($"{r.Changed}"), Text($"{r.NotReached}")))]));

    private static ReportSection Closing(ContainmentView view) => view.Words.Count == 0
        ? new("Closing", ["The case has not been closed."], null)
        : new("Closing", [$"State now: {view.State}."], new(
            ["At", "By", "Words", "Members without a final outcome then, by what is recorded now"],
            [.. view.Words.Select(w => ImmutableArray.Create(Time(w.At), w.Person ?? string.Empty, w.Words, Text($"{w.Lacking}")))]));

    private static string Place(MemberPlace place)
    {
        var inside = place.Inside is { } unit ? $" inside {Unit(unit)}" : string.Empty;
        return $"{place.Place}{(place.Step is { } step ? $" at {step}" : string.Empty)}{(place.Consignee is { } to ? $" to {to}" : string.Empty)}{inside}";
    }

    private static string Duration(string? iso)
    {
        if (!IsoDuration.TryParse(iso, out var time))
        {
            return "not known";
        }

        return time switch
        {
            { TotalMinutes: < 1 } => "under a minute",
            { TotalHours: < 1 } => Text($"{(int)time.TotalMinutes} min"),
            { TotalDays: < 1 } => Text($"{(int)time.TotalHours} h {time.Minutes} min"),
            _ => Text($"{(int)time.TotalDays} d {time.Hours} h"),
        };
    }

    private static string Counts(IReadOnlyList<NamedCount> counts) => counts.Count == 0 ? "none" : string.Join(", ", counts.Select(c => Text($"{c.Name} {c.Count}")));

    private static string Share(Share share) => share.Estimate is { } estimate
        ? Text($"{share.Numerator} of {share.Denominator} ({estimate:P1}; Wilson 95 % interval {share.Lower:P1} to {share.Upper:P1})")
        : Text($"{share.Numerator} of {share.Denominator} (undefined)");

    private static string Text(FormattableString text) => FormattableString.Invariant(text);
}
