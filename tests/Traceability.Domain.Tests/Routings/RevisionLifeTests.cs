using System.Collections.Immutable;
using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Routings;

/// <summary>The life of one revision as a table of state and command: every cell is tested.</summary>
public sealed class RevisionLifeTests
{
    private static readonly ItemNumber Lamp = ItemNumber.Parse("LAMP");
    private static readonly RevisionCode A = RevisionCode.Parse("A");

    // P-1 writes, P-2 and P-3 are second people, P-8 is nobody that is known.
    private static readonly Dictionary<string, string[]> States = new(StringComparer.Ordinal)
    {
        ["none"] = [],
        ["anonymous"] = ["draft -"],
        ["draft"] = ["draft P-1"],
        ["approved"] = ["draft P-1", "approve P-2"],
        ["rewritten"] = ["draft P-1", "approve P-2", "draft P-3"],
        ["approval voided"] = ["draft P-1", "approve P-2", "void 2"],
        ["void voided"] = ["draft P-1", "approve P-2", "void 2", "void 3"],
        ["released"] = ["draft P-1", "approve P-2", "release P-3"],
        ["released, then voided"] = ["draft P-1", "approve P-2", "release P-3", "void 2"],
    };

    private static readonly string[] Commands = ["draft P-1", "approve P-1", "approve P-2", "approve P-3", "approve P-8", "release P-1", "release P-2", "release P-3", "release -"];

    // Rows in the order of the commands above, for an item that needs one approval.
    private static readonly Dictionary<string, string[]> NeedsOne = new(StringComparer.Ordinal)
    {
        ["none"] = ["ok", "revision-unknown", "revision-unknown", "revision-unknown", "revision-unknown", "revision-unknown", "revision-unknown", "revision-unknown", "revision-unknown"],
        ["anonymous"] = ["ok", "author-not-named", "author-not-named", "author-not-named", "person-unknown", "approval-missing", "approval-missing", "approval-missing", "releaser-not-named"],
        ["draft"] = ["ok", "approver-not-independent", "ok", "ok", "person-unknown", "approval-missing", "approval-missing", "approval-missing", "releaser-not-named"],
        ["approved"] = ["ok", "approver-not-independent", "approval-given", "ok", "person-unknown", "ok", "approval-missing", "ok", "releaser-not-named"],
        ["rewritten"] = ["ok", "approver-not-independent", "ok", "approver-not-independent", "person-unknown", "approval-missing", "approval-missing", "approval-missing", "releaser-not-named"],
        ["approval voided"] = ["ok", "approver-not-independent", "ok", "ok", "person-unknown", "approval-missing", "approval-missing", "approval-missing", "releaser-not-named"],
        ["void voided"] = ["ok", "approver-not-independent", "approval-given", "ok", "person-unknown", "ok", "approval-missing", "ok", "releaser-not-named"],
        ["released"] = ["revision-released", "revision-released", "revision-released", "revision-released", "revision-released", "revision-released", "revision-released", "revision-released", "revision-released"],
        ["released, then voided"] = ["revision-released", "revision-released", "revision-released", "revision-released", "revision-released", "revision-released", "revision-released", "revision-released", "revision-released"],
    };

    public static TheoryData<string, string, bool> Cells
    {
        get
        {
            var cells = new TheoryData<string, string, bool>();
            foreach (var state in States.Keys)
            {
                foreach (var command in Commands)
                {
                    cells.Add(state, command, true);
                    cells.Add(state, command, false);
                }
            }

            return cells;
        }
    }

    [Theory]
    [MemberData(nameof(Cells))]
    public void Each_command_is_taken_or_refused_as_the_table_says(string state, string command, bool needsApproval)
    {
        var (references, _) = Given(needsApproval ? 1 : null, States[state]);
        var expected = NeedsOne[state][Array.IndexOf(Commands, command)];
        if (!needsApproval && expected is "approval-missing" or "releaser-not-named")
        {
            // Where the item asks for no approval, whoever may release does, named or not: as before there were approvals.
            expected = needsApproval ? expected : "ok";
        }

        Assert.Equal(expected, DefinitionDecisions.Check(Fact(command), references)?.Code ?? "ok");
    }

    [Fact]
    public void Two_approvals_are_two_people_beside_the_author_and_the_releaser()
    {
        Assert.Equal("approval-missing", Refused(2, "release P-4", "draft P-1", "approve P-2"));
        Assert.Equal("approval-missing", Refused(2, "release P-3", "draft P-1", "approve P-2", "approve P-3"));
        Assert.Null(Refused(2, "release P-4", "draft P-1", "approve P-2", "approve P-3"));
        Assert.Null(Refused(0, "release P-1", "draft P-1"));
    }

    [Fact]
    public void A_release_from_before_the_item_asked_for_approvals_stays_valid()
    {
        var (references, routing) = Given(1, "draft P-1", "release P-1");
        Assert.Equal(A, Assert.Single(routing!.Released).Revision);
        Assert.Equal("revision-released", DefinitionDecisions.Check(Fact("release P-2"), references)!.Code);
    }

    [Fact]
    public void Who_wrote_approved_and_released_is_told()
    {
        var life = Given(1, "draft P-1", "draft P-3", "approve P-2", "release P-4").Routing!.FindLife(A)!;
        Assert.Equal(["P-1", "P-3"], life.Authors.Select(a => a.ToString()));
        Assert.Equal("P-2", Assert.Single(life.Approvals).ApprovedBy.ToString());
        Assert.Equal(PersonCode.Parse("P-4"), life.ReleasedBy);
        Assert.NotNull(life.ReleasedAt);
        Assert.Single(Given(1, "draft P-1", "approve P-2", "release P-4", "void 2").Routing!.FindLife(A)!.Approvals);
        Assert.Empty(Given(1, "draft P-1", "approve P-2", "void 2").Routing!.FindLife(A)!.Approvals);
    }

    [Fact]
    public void An_approval_is_voided_and_not_corrected()
    {
        ImmutableArray<RecordedFact> facts = [new(Some.Id(1), Fact("draft P-1"), Some.Noon), new(Some.Id(2), Fact("approve P-2"), Some.Noon)];
        var correction = new RecordCorrected(Some.Id(2), Fact("approve P-3"), "typed wrongly", Some.Quality) { OccurredAt = Some.Noon };
        Assert.Equal("record-not-correctable", CorrectionDecisions.Check(facts, correction)!.Code);
        Assert.Null(CorrectionDecisions.Check(facts, new RecordVoided(Some.Id(2), "hasty", Some.Quality) { OccurredAt = Some.Noon }));
    }

    [Fact]
    public void A_release_is_neither_corrected_nor_voided()
    {
        ImmutableArray<RecordedFact> facts = [new(Some.Id(1), Fact("draft P-1"), Some.Noon), new(Some.Id(2), Fact("release P-4"), Some.Noon)];
        foreach (var fact in new Fact[]
        {
            new RecordVoided(Some.Id(2), "hasty", Some.Quality) { OccurredAt = Some.Noon },
            new RecordCorrected(Some.Id(2), Fact("release P-3"), "typed wrongly", Some.Quality) { OccurredAt = Some.Noon },
        })
        {
            var refusal = CorrectionDecisions.Check(facts, fact);
            Assert.Equal(("revision-released", "/record"), (refusal?.Code, refusal?.Faults[0].Pointer));
            Assert.Contains("Release the next revision.", refusal!.Faults[0].Detail, StringComparison.Ordinal);
        }
    }

    private static string? Refused(int? needed, string command, params string[] before) => DefinitionDecisions.Check(Fact(command), Given(needed, before).References)?.Code;

    private static (References References, Routing? Routing) Given(int? needed, params string[] commands)
    {
        var story = new UnitStory(Some.Unit("LAMP", "1")).Know(new ItemDefined(Lamp, ItemKind.Product, "lamp", [], null) { OccurredAt = Some.Noon, ApprovalsNeeded = needed });
        foreach (var person in new[] { "P-1", "P-2", "P-3", "P-4" })
        {
            story.Know(new Domain.People.PersonDefined(PersonCode.Parse(person), person) { OccurredAt = Some.Noon });
        }

        ImmutableArray<RecordedFact> facts = [.. commands.Select((c, i) => new RecordedFact(Some.Id(i + 1), Fact(c), Some.At(i)))];
        var stream = StreamNames.OfRouting(Lamp);
        var references = facts.IsEmpty ? story.References : story.References.With(stream, References.Fold(stream, facts));
        return (references, references.FindRouting(Lamp));
    }

    private static Fact Fact(string command)
    {
        var words = command.Split(' ');
        PersonCode? who = words[1].StartsWith("P-", StringComparison.Ordinal) ? PersonCode.Parse(words[1]) : null;
        return words[0] switch
        {
            "draft" => new RoutingDrafted(new RoutingBuilder("LAMP").Step("WIRE").Build()) { OccurredAt = Some.Noon, Person = who },
            "approve" => new RoutingApproved(Lamp, A, who!.Value) { OccurredAt = Some.Noon },
            "release" => new RoutingReleased(Lamp, A, who) { OccurredAt = Some.Noon },
            _ => new RecordVoided(Some.Id(int.Parse(words[1], System.Globalization.CultureInfo.InvariantCulture)), "hasty", Some.Quality) { OccurredAt = Some.Noon },
        };
    }

    [Fact]
    public void A_draft_cannot_be_corrected_or_voided_and_is_drafted_anew_or_as_the_next_revision()
    {
        var draft = new RoutingDrafted(new RoutingBuilder("LAMP").Step("BOND").Build()) { OccurredAt = Some.At(0) };
        RecordedFact[] open = [new(Some.Id(1), draft, Some.At(0))];
        RecordedFact[] released = [.. open, new(Some.Id(2), new RoutingReleased(draft.Revision.Item, draft.Revision.Revision, Some.Quality) { OccurredAt = Some.At(1) }, Some.At(1))];
        var correction = new RecordCorrected(Some.Id(1), draft with { Revision = draft.Revision with { Description = "anew" } }, "misread", Some.Quality) { OccurredAt = Some.At(2) };
        var voiding = new RecordVoided(Some.Id(1), "wrong", Some.Quality) { OccurredAt = Some.At(2) };
        foreach (var fact in new Fact[] { correction, voiding })
        {
            var refusal = CorrectionDecisions.Check([.. released], fact);
            Assert.Equal(("revision-released", "/record"), (refusal?.Code, refusal?.Faults[0].Pointer));
            Assert.Contains("Draft the next revision.", refusal!.Faults[0].Detail, StringComparison.Ordinal);
        }

        foreach (var fact in new Fact[] { correction, voiding })
        {
            Assert.Equal("record-not-correctable", CorrectionDecisions.Check([.. open], fact)?.Code);
        }
    }
}
