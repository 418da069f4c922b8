using System.Collections.Immutable;
using CsCheck;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Testing;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Releasing;

/// <summary>As-built and as-maintained at random past moments, against a plain replay that shares no code with the service.</summary>
public sealed class AsOfTests
{
    [Fact]
    public void At_any_moment_and_as_known_at_any_moment_a_unit_is_what_a_plain_replay_makes_of_its_facts()
    {
        var differing = 0;
        var cases =
            from facts in Histories.Facts.Where(IsWithoutCircle)
            from recorded in Gen.Int[0, 40].Array[facts.Length]
            from at in Gen.Int[-70, 35]
            from known in Gen.Int[0, 45]
            select (Facts: facts.Select((f, i) => f with { RecordedAt = Some.At(recorded[i]) }).ToImmutableArray(), At: Some.At(at), Known: known > 40 ? (DateTimeOffset?)null : Some.At(known));
        cases.Sample(
            c =>
            {
                var unit = ProductUnit.Of(Histories.Lamp, c.Facts);
                var structure = UnitStructure.Of(unit, Histories.References, c.At, c.Known);
                var (isOpen, inside, place, lots, released) = Replay(c.Facts, c.At, c.Known);
                Assert.Equal(isOpen, structure is not null);
                Assert.Equal(released, UnitStructure.BuiltAt(unit, c.Known));
                if (structure is null)
                {
                    return;
                }

                Assert.Equal(inside.OrderBy(i => i.Key, StringComparer.Ordinal).Select(i => $"{i.Key}: {i.Value}"), structure.Inside.Select(i => $"{i.Position}: {i.Component}"));
                Assert.Equal(place, structure.Standing);
                Assert.Equal(lots.Order(StringComparer.Ordinal), structure.Lots.Select(l => l.Lot.ToString()).Distinct().Order(StringComparer.Ordinal));
                var now = UnitStructure.Of(unit, Histories.References, DateTimeOffset.MaxValue, null);
                if (now is null || !now.Inside.Select(i => i.Component).SequenceEqual(structure.Inside.Select(i => i.Component)))
                {
                    Interlocked.Increment(ref differing);
                }
            },
            iter: TestLength.IsLong ? 200_000 : 3_000);

        // If the past never differed from the present, this would prove nothing.
        Assert.InRange(differing, 50, int.MaxValue);
    }

    [Fact]
    public void As_built_stays_when_a_component_is_replaced_in_service()
    {
        var (lamp, first, second) = (Some.Unit("LAMP", "1"), Some.Unit("HEAD", "H1"), Some.Unit("HEAD", "H2"));
        var story = new UnitStory(lamp).Routing(new RoutingBuilder("LAMP").Step("MARRY", s => s.Component("HEAD", "HEAD"))).Component(first).Component(second).Open()
            .Done("MARRY", 0, s => s.Fitted("HEAD", first)).Released(10)
            .Tell(new UnitReturned(lamp, "dim") { OccurredAt = Some.At(1_000) })
            .Tell(new ComponentRemoved(lamp, Some.Code("HEAD"), first, "dim") { OccurredAt = Some.At(1_010) })
            .Tell(new ComponentInstalled(lamp, Some.Code("HEAD"), second, Some.Step("MARRY")) { OccurredAt = Some.At(1_020) })
            .Released(1_030);
        UnitKey[] InsideAt(DateTimeOffset at) => [.. UnitStructure.Of(story.ProductUnit, story.References, at, null)!.Inside.Select(i => i.Component)];

        Assert.Equal(Some.At(10), UnitStructure.BuiltAt(story.ProductUnit, null));
        Assert.Equal([first], InsideAt(Some.At(10)));
        Assert.Empty(InsideAt(Some.At(1_015)));
        Assert.Equal([second], InsideAt(Some.At(2_000)));
        Assert.Null(UnitStructure.Of(story.ProductUnit, story.References, Some.At(-1_001), null));
    }

    // Voids and corrections name only earlier ones: what a circle means is told by the rule on corrections, not by this test.
    private static bool IsWithoutCircle(ImmutableArray<RecordedFact> facts) => facts.All(f =>
        f.Fact is not RecordVoided v || facts.FirstOrDefault(o => o.Id == v.Record)?.Fact is not RecordVoided || Number(v.Record) < Number(f.Id));

    private static int Number(Guid id) => BitConverter.ToInt32(id.ToByteArray(), 0);

    private static (bool IsOpen, Dictionary<string, UnitKey> Inside, Standing Place, HashSet<string> Lots, DateTimeOffset? Released) Replay(
        ImmutableArray<RecordedFact> all, DateTimeOffset at, DateTimeOffset? knownAt)
    {
        var known = all.Where(f => knownAt is null || f.RecordedAt <= knownAt).ToList();
        bool Stands(RecordedFact f) => !known.Any(v => v.Fact is RecordVoided named && named.Record == f.Id && Stands(v));
        DateTimeOffset Time(Fact f) => f.OccurredAt + f.Clock.Offset;

        // Each fact as it reads now: its last standing correction, if it is not void.
        var lines = new List<(DateTimeOffset At, Guid Id, Fact Fact)>();
        foreach (var f in known.Where(f => f.Fact is not (RecordCorrected or RecordVoided) && Stands(f)))
        {
            var correction = known.Where(c => c.Fact is RecordCorrected named && named.Record == f.Id && Stands(c)).OrderBy(c => Time(c.Fact)).ThenBy(c => c.Id).LastOrDefault();
            var content = correction is null ? f.Fact : ((RecordCorrected)correction.Fact).Replacement;
            lines.Add((Time(content), f.Id, content));
        }

        var released = lines.Where(l => l.Fact is UnitReleased).OrderBy(l => l.At).Select(l => (DateTimeOffset?)l.At).FirstOrDefault();
        var story = lines.Where(l => l.At <= at).OrderBy(l => l.At).ThenBy(l => l.Id).ToList();
        return (story.Exists(l => l.Fact is UnitOpened), Insides(story), PlaceOf(story), Lots(story), released);
    }

    // Minute by minute: what goes out before what comes in; what comes in takes the place of what was there.
    private static Dictionary<string, UnitKey> Insides(List<(DateTimeOffset At, Guid Id, Fact Fact)> story)
    {
        var inside = new Dictionary<string, UnitKey>(StringComparer.Ordinal);
        foreach (var moment in story.GroupBy(l => l.At).OrderBy(g => g.Key))
        {
            foreach (var removed in moment.Select(l => l.Fact).OfType<ComponentRemoved>())
            {
                foreach (var position in inside.Where(i => i.Value == removed.Component).Select(i => i.Key).ToArray())
                {
                    inside.Remove(position);
                }
            }

            string[] steps = ["WIRE", "GLUE", "BOND", "MARRY", "SCREW", "CLOSE", "TEST"];
            foreach (var done in moment.Select(l => l.Fact).OfType<StepCompleted>().OrderBy(s => Array.IndexOf(steps, s.Step.ToString())))
            {
                foreach (var use in done.Components)
                {
                    inside[use.Position.ToString()] = use.Component;
                }
            }

            foreach (var put in moment.Select(l => l.Fact).OfType<ComponentInstalled>())
            {
                inside[put.Position.ToString()] = put.Component;
            }
        }

        return inside;
    }

    private static Standing PlaceOf(List<(DateTimeOffset At, Guid Id, Fact Fact)> story)
    {
        var (place, isHeld) = (Place.InProcess, false);
        foreach (var (_, _, fact) in story)
        {
            isHeld = fact is UnitHeld || (isHeld && fact is not UnitHoldLifted);
            if (place != Place.Scrapped)
            {
                place = fact switch
                {
                    UnitReleased => Place.InStock,
                    UnitShipped => Place.Shipped,
                    UnitReturned => Place.Returned,
                    UnitScrapped => Place.Scrapped,
                    StepStarted or StepCompleted when place == Place.Returned => Place.InProcess,
                    _ => place,
                };
            }
        }

        return new(place, isHeld);
    }

    private static HashSet<string> Lots(List<(DateTimeOffset At, Guid Id, Fact Fact)> story) =>
        [.. story.Select(l => l.Fact).OfType<StepCompleted>().SelectMany(s => s.Materials.SelectMany(m => m.Lots.Select(lot => $"{m.Item}/{lot}")))];
}
