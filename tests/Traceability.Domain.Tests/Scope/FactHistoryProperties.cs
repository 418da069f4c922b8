using System.Collections.Concurrent;
using CsCheck;
using Traceability.Domain.Facts;
using Traceability.Domain.Scope;
using Traceability.Testing;
using Traceability.Testing.Scope.Facts;
using Xunit;

namespace Traceability.Domain.Tests.Scope;

/// <summary>
/// From facts to scopes: what was told of random histories, corrected, voided, late, in parts or not at all, against what truly happened,
/// and against every way to fill what is not told.
/// </summary>
public sealed class FactHistoryProperties
{
    private const long CompletionsMax = 1_000;
    private const int Holes = 4;

    private static readonly Gen<int[]> Numbers = Gen.Int[0, 719].Array[200, 1_300];

    private static long Cases => TestLength.IsLong ? 100_000 : 3_000;

    [Fact]
    public void No_unit_that_truly_meets_the_condition_is_outside_and_none_is_called_proven_that_does_not() =>
        Numbers.Sample(
            numbers =>
            {
                var history = FactHistory.From(numbers, Holes);
                var judgements = history.Judge();
                foreach (var suspect in history.Singles.Append(history.Combination))
                {
                    var members = history.Search(suspect, judgements).Members.ToDictionary(m => m.Unit, m => m.Verdict, StringComparer.Ordinal);
                    var outside = history.Truth.Reached(suspect).Where(u => !members.ContainsKey(u)).ToArray();
                    Assert.True(outside.Length == 0, $"{suspect}: {string.Join(' ', outside)} is one and is no member.");
                    var wrong = members.Where(m => m.Value == ScopeVerdict.Proven).Select(m => m.Key).Except(history.Truth.Reached(suspect, anyRule: true), StringComparer.Ordinal).ToArray();

                    // What can't be read may have ended, or begun anew, what the others tell of.
                    Assert.True(wrong.Length == 0 || history.HasUnreadable, $"{suspect}: {string.Join(' ', wrong)} is called proven and is not one.");
                }
            },
            iter: Cases,
            print: numbers => Print(numbers, Holes, isWire: false));

    [Fact]
    public void One_suspect_of_any_kind_reaches_what_the_facts_leave_possible_in_some_way_and_provenly_what_they_tell_in_all() =>
        Numbers.Sample(
            numbers =>
            {
                var history = FactHistory.From(numbers, Holes - 1, isWire: true);
                var judgements = history.Judge();
                foreach (var suspect in history.Singles)
                {
                    var oracle = new FactOracle(history, suspect);
                    if (oracle.Count > CompletionsMax)
                    {
                        continue;
                    }

                    var members = history.Search(suspect, judgements).Members.ToDictionary(m => m.Unit, m => m.Verdict, StringComparer.Ordinal);
                    foreach (var (unit, (inAll, inSome)) in oracle.Try())
                    {
                        ScopeVerdict? tried = inAll ? ScopeVerdict.Proven : inSome ? ScopeVerdict.Possible : null;
                        ScopeVerdict? found = members.TryGetValue(unit, out var verdict) ? verdict : null;
                        Assert.True(tried == found, $"{suspect}: {unit} is {found} instead of {tried}.");
                    }
                }
            },
            iter: Cases,
            print: numbers => Print(numbers, Holes - 1, isWire: true));

    [Fact]
    public void The_order_in_which_facts_arrive_changes_no_scope() =>
        Numbers.Sample(
            numbers =>
            {
                var history = FactHistory.From(numbers, Holes);
                var sorted = history.InOrder();
                var (late, inTime) = (history.Judge(), sorted.Judge());
                foreach (var suspect in history.Singles)
                {
                    Assert.Equal(sorted.Search(suspect, inTime).Members.Select(Say), history.Search(suspect, late).Members.Select(Say));
                }
            },
            iter: Cases / 10,
            print: numbers => Print(numbers, Holes, isWire: false));

    [Fact]
    public void The_histories_that_are_tried_meet_every_kind_of_change_and_of_reach_often()
    {
        var seen = new ConcurrentDictionary<string, int>(StringComparer.Ordinal);
        Numbers.Sample(
            numbers =>
            {
                var history = FactHistory.From(numbers, Holes);
                var judgements = history.Judge();
                foreach (var told in history.Told.Select(t => t.Fact.Fact.GetType().Name).Distinct(StringComparer.Ordinal))
                {
                    Count(told);
                }

                foreach (var gap in judgements.SelectMany(j => j.WorkGaps.Select(g => $"{g.Kind} {g.Reason}").Concat(j.Gaps.Select(g => $"{g.Kind} {g.Reason}"))).Distinct(StringComparer.Ordinal))
                {
                    Count(gap);
                }

                foreach (var suspect in history.Singles)
                {
                    var reached = history.Truth.Reached(suspect);
                    foreach (var member in history.Search(suspect, judgements).Members)
                    {
                        Count($"{suspect.GetType().Name} {member.Verdict} {(reached.Contains(member.Unit) ? "is" : "is not")}");
                    }
                }
            },
            iter: Cases / 5);

        string[] kinds =
        [
            nameof(RecordCorrected), nameof(RecordVoided), nameof(UnreadableFact), "UnitMovedToRevision", "ComponentRemoved", "ComponentInstalled",
            "Step Voided", "Step StepNotRecorded", "Step NotRecorded", "Tool NotRecorded", "Characteristic NotRecorded", "Interval NotRecorded", "Lot NotRecorded", "Lot Voided", "Serial NotRecorded", "Serial StepNotRecorded",
            .. new[] { nameof(SuspectLot), nameof(SuspectContainer), nameof(SuspectSupplierLot), nameof(SuspectTool), nameof(SuspectWork), nameof(SuspectMeasured), nameof(SuspectInterval), nameof(SuspectComponent) }
                .SelectMany(k => new[] { $"{k} Proven is", $"{k} Possible is", $"{k} Possible is not" }),
        ];
        Assert.All(kinds, kind => Assert.True(seen.GetValueOrDefault(kind) >= Cases / 600, $"{kind}: {seen.GetValueOrDefault(kind)} times"));

        void Count(string what) => seen.AddOrUpdate(what, 1, (_, count) => count + 1);
    }

    private static string Say(FoundMember m) => $"{m.Unit} {m.Verdict} {m.Now} {m.From:O} {m.To:O}";

    private static string Print(int[] numbers, int holes, bool isWire) => FactHistory.From(numbers, holes, isWire: isWire) + "\n" + string.Join(",", numbers);
}
