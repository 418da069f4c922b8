using System.Collections.Concurrent;
using CsCheck;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

/// <summary>What counts of a unit's facts, told from what counted before one of them, is what all of them tell.</summary>
public sealed class EffectiveFactsTests
{
    private const int FactsMax = 12;

    private static readonly UnitKey Unit = Some.Unit("FP-2", "1");

    [Fact]
    public void What_counts_is_the_same_however_often_it_was_asked_for_on_the_way()
    {
        var seen = new ConcurrentDictionary<string, int>(StringComparer.Ordinal);
        Gen.Int[0, 9_999].Array[1, FactsMax].Sample(
            choices =>
            {
                var unit = ProductUnit.Unknown(Unit);
                for (var i = 0; i < choices.Length; i++)
                {
                    unit = unit.With(Fact(i, choices[i], withChanges: choices[0] % 2 == 0));
                    if (choices[i] % 4 > 0)
                    {
                        Assert.Equal(Say(ProductUnit.Of(Unit, unit.Facts)), Say(unit));
                        seen.AddOrUpdate(unit.Facts.Any(f => f.Fact is RecordVoided or RecordCorrected) ? "changed" : "as reported", 1, static (_, n) => n + 1);
                    }
                }
            },
            iter: 5_000);

        Assert.True(seen["changed"] > 2_000 && seen["as reported"] > 2_000, string.Join(", ", seen));
    }

    // Some at the same minute; some name a fact that arrives only after them, or none.
    private static RecordedFact Fact(int number, int choice, bool withChanges)
    {
        var minute = choice % 11;
        var named = Some.Id(choice / 11 % FactsMax);
        Domain.Facts.Fact fact = (choice / 200 % 6) switch
        {
            0 when withChanges => new RecordVoided(named, "Wrong unit", Some.Quality) { OccurredAt = Some.At(minute) },
            1 when withChanges => new RecordCorrected(named, Started(minute + 3), "Wrong time", Some.Quality) { OccurredAt = Some.At(minute) },
            _ => Started(minute),
        };
        return new(Some.Id(number), fact, Some.At(100 + number));
    }

    private static StepStarted Started(int minute) => new(Unit, Some.Step("BOND")) { OccurredAt = Some.At(minute) };

    private static IEnumerable<string> Say(ProductUnit unit) =>
        unit.Effective.Select(f => $"{f.Id} {f.At:O} {f.RecordedAt:O} {f.IsVoided} {string.Join(' ', f.Corrections)} {f.Fact}");
}
