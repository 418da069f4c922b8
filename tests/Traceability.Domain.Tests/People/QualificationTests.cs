using System.Collections.Immutable;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.People;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Tests.Judging;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.People;

public sealed class QualificationTests
{
    private static readonly UnitKey Lamp = Some.Unit("LAMP", "1");

    private static UnitStory Given(bool isSupervisionAllowed = true) => new UnitStory(Lamp)
        .Routing(new RoutingBuilder("LAMP").Step("BOND", s => s.Needs("BONDING").Supervised(isSupervisionAllowed)))
        .Know(new PersonDefined(PersonCode.Parse("P-1"), "trainee") { OccurredAt = Some.At(-9_000) })
        .Open();

    private static TrainingCompleted Trained(string person, double at, double? validUntil = null, params string[] grants) =>
        new(PersonCode.Parse(person), Some.Code("BOND-COURSE"), PersonCode.Parse("P-7"), "test sheet 12", [.. grants.Select(Some.Code)], validUntil is { } until ? Some.At(until) : null)
        {
            OccurredAt = Some.At(at),
        };

    [Theory]
    [InlineData(-1, true)]
    [InlineData(0, true)]
    [InlineData(1, false)]
    public void A_training_qualifies_from_when_it_is_completed(double trainedAt, bool isQualified) =>
        Given().Know(Trained("P-1", trainedAt, null, "BONDING")).Done("BOND", 0).ShouldFind(isQualified ? [] : ["person-not-qualified BONDING"]);

    [Theory]
    [InlineData(1, true)]
    [InlineData(0, false)]
    public void A_training_qualifies_until_it_must_be_refreshed(double validUntil, bool isQualified) =>
        Given().Know(Trained("P-1", -100, validUntil, "BONDING")).Done("BOND", 0).ShouldFind(isQualified ? [] : ["person-not-qualified BONDING"]);

    [Fact]
    public void A_training_grants_what_it_names_and_the_last_word_counts()
    {
        Given().Know(Trained("P-1", -100)).Done("BOND", 0).ShouldFind("person-not-qualified BONDING");
        Given().Know(Trained("P-1", -100, null, "SOLDERING")).Done("BOND", 0).ShouldFind("person-not-qualified BONDING");
        Given().Know(Trained("P-1", -100, null, "SOLDERING", "BONDING")).Done("BOND", 0).ShouldFind();
        Given().Know(Trained("P-1", -100, null, "BONDING"))
            .Know(new QualificationWithdrawn(PersonCode.Parse("P-1"), Some.Code("BONDING"), "three leaks") { OccurredAt = Some.At(-50) })
            .Done("BOND", 0).ShouldFind("person-not-qualified BONDING");
        Given().Qualified("P-1", "BONDING", validUntil: -10).Know(Trained("P-1", -5, 500, "BONDING")).Done("BOND", 0).ShouldFind();
    }

    [Fact]
    public void A_trainee_with_a_qualified_supervisor_breaks_no_rule_where_the_step_allows_it()
    {
        Given().Qualified("P-2", "BONDING").Done("BOND", 0, s => s.Supervisor("P-2")).ShouldFind();
        Given(isSupervisionAllowed: false).Qualified("P-2", "BONDING").Done("BOND", 0, s => s.Supervisor("P-2")).ShouldFind("person-not-qualified BONDING");
        Given().Qualified("P-2", "BONDING").Done("BOND", 0).ShouldFind("person-not-qualified BONDING");
    }

    [Fact]
    public void The_supervisor_is_qualified_at_the_time_of_the_work()
    {
        Given().Qualified("P-2", "SOLDERING").Done("BOND", 0, s => s.Supervisor("P-2")).ShouldFind("supervisor-not-qualified BONDING");
        Given().Qualified("P-2", "BONDING", validUntil: 0).Done("BOND", 0, s => s.Supervisor("P-2")).ShouldFind("supervisor-not-qualified BONDING");
        Given().Qualified("P-2", "BONDING", validUntil: 1).Done("BOND", 0, s => s.Supervisor("P-2")).ShouldFind();
        Given().Done("BOND", 0, s => s.Supervisor("P-8")).ShouldFind("supervisor-not-qualified BONDING");
    }

    [Fact]
    public void Nobody_supervises_himself_and_nobody_unknown_is_supervised()
    {
        Given().Done("BOND", 0, s => s.Supervisor("P-1")).ShouldFind("person-not-qualified BONDING");
        Given().Qualified("P-2", "BONDING").Done("BOND", 0, s => s.By("P-8").Supervisor("P-2")).ShouldFind("person-not-qualified BONDING");
        Given().Qualified("P-2", "BONDING").Done("BOND", 0, s => s.By(null).Supervisor("P-2")).ShouldFind("person-not-recorded BONDING");
    }

    [Fact]
    public void A_qualified_person_needs_no_supervisor_and_a_wrong_one_does_no_harm() =>
        Given().Qualified("P-1", "BONDING").Done("BOND", 0, s => s.Supervisor("P-8")).ShouldFind();

    [Fact]
    public void The_supervisor_may_be_named_at_the_start_of_the_attempt()
    {
        StepStarted Started(double at, string? supervisor) =>
            new(Lamp, Some.Step("BOND")) { OccurredAt = Some.At(at), Clock = Some.RightClock, Supervisor = supervisor is null ? null : PersonCode.Parse(supervisor) };
        UnitStory Watched() => Given().Qualified("P-2", "BONDING").Tell(Started(-3, "P-2"));

        Watched().Done("BOND", 0).ShouldFind();
        Watched().Tell(Started(-2, null)).Done("BOND", 0).ShouldFind("person-not-qualified BONDING");
        Watched().Done("BOND", -5).Done("BOND", 0).ShouldFind("person-not-qualified BONDING");
        Watched().Done("BOND", 0).Done("BOND", 9).ShouldFind("person-not-qualified BONDING");
        Watched().Done("BOND", 0, s => s.Supervisor("P-8")).ShouldFind("supervisor-not-qualified BONDING");
    }

    [Fact]
    public void Readiness_says_that_supervision_is_allowed_and_by_whom_it_is_not()
    {
        ReadinessAnswer Ask(UnitStory story, string? supervisor) => Readiness.Ask(
            story.ProductUnit,
            story.References,
            new(Some.Step("BOND"), Some.Station, Some.Person, [], [], [], Some.At(0)) { Supervisor = supervisor is null ? null : PersonCode.Parse(supervisor) });

        var known = Given().Qualified("P-2", "BONDING").Qualified("P-3", "SOLDERING");
        Assert.True(Ask(known, null).Needs!.AllowsSupervised);
        Assert.False(Ask(Given(isSupervisionAllowed: false), null).Needs!.AllowsSupervised);
        Assert.Equal("person-not-qualified", Assert.Single(Ask(known, null).Reasons).Kind);
        Assert.Equal(ReadinessVerdict.Go, Ask(known, "P-2").Verdict);
        Assert.Equal("supervisor-not-qualified", Assert.Single(Ask(known, "P-3").Reasons).Kind);
    }

    [Fact]
    public void Whom_a_judgement_looks_at_is_among_its_dependencies()
    {
        var completed = new StepRecord(Lamp, "BOND", Some.At(0)).Supervisor("P-2").Fact;
        var started = new StepStarted(Lamp, Some.Step("BOND")) { OccurredAt = Some.At(0), Supervisor = PersonCode.Parse("P-3") };
        var names = Dependencies.Of(ProductUnit.Of(Lamp, [new(Some.Id(1), completed, Some.Noon), new(Some.Id(2), started, Some.Noon)]));
        Assert.Superset(new HashSet<string>(StringComparer.Ordinal) { "person/P-1", "person/P-2", "person/P-3" }, names.ToHashSet(StringComparer.Ordinal));
    }

    [Fact]
    public void What_stands_at_a_time_is_what_the_person_is_qualified_for_then()
    {
        var p = PersonCode.Parse("P-1");
        ImmutableArray<RecordedFact> facts =
        [
            Recorded(1, new QualificationGranted(p, Some.Code("BONDING"), Some.At(100)) { OccurredAt = Some.At(0) }),
            Recorded(2, Trained("P-1", 10, 50, "SOLDERING", "BONDING")),
            Recorded(3, new QualificationGranted(p, Some.Code("SOLDERING"), null) { OccurredAt = Some.At(20) }),
            Recorded(4, new QualificationWithdrawn(p, Some.Code("BONDING"), "asked") { OccurredAt = Some.At(30) }),
            Recorded(5, new RecordVoided(Some.Id(4), "mistaken", Some.Quality) { OccurredAt = Some.At(40) }),
        ];
        var person = Person.Of(p, facts);
        for (var at = -5; at < 120; at += 5)
        {
            var standing = person.QualificationsAt(Some.At(at)).Select(s => s.Qualification).ToHashSet();
            Assert.All(new[] { "BONDING", "SOLDERING", "NONE" }, q => Assert.Equal(person.IsQualifiedAt(Some.Code(q), Some.At(at)), standing.Contains(Some.Code(q))));
        }

        Assert.Equal(["BONDING BOND-COURSE", "SOLDERING "], person.QualificationsAt(Some.At(45)).Select(s => $"{s.Qualification} {s.Topic}"));
        Assert.Equal(Some.Id(2), person.QualificationsAt(Some.At(45))[0].Record);
    }

    [Fact]
    public void A_training_names_people_that_are_known()
    {
        var references = Given().References;
        Assert.Equal(("person-unknown", "/trainer"), Refusal(Trained("P-1", 0, null, "BONDING")));
        Assert.Equal(("person-unknown", "/subject"), Refusal(Trained("P-8", 0, null, "BONDING")));
        Assert.Null(DefinitionDecisions.Check(Trained("P-1", 0) with { Trainer = null }, references));

        (string, string) Refusal(Fact fact) => DefinitionDecisions.Check(fact, references) is { } refusal ? (refusal.Code, refusal.Faults[0].Pointer) : default;
    }

    private static RecordedFact Recorded(int id, Fact fact) => new(Some.Id(id), fact, fact.OccurredAt);
}
