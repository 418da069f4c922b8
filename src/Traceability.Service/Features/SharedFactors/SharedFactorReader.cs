using System.Globalization;
using Traceability.Contracts;
using Traceability.Contracts.SharedFactors;
using Traceability.Domain.Primitives;
using Traceability.Domain.SharedFactors;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.SharedFactors;

/// <summary>Answers from one snapshot of the database.</summary>
internal sealed class SharedFactorReader(AnswerDatabase database, TimeProvider clock)
{
    private const int GroupsMax = 200;

    /// <summary>What was found, or why the question has no answer.</summary>
    public async Task<(SharedFactorFound? Found, Refusal? Refusal)> FindAsync(Search search, CancellationToken cancellation)
    {
        var asOf = clock.GetUtcNow();
        await using var session = await database.OpenAsync(cancellation);
        var completeness = await CompletenessReader.ReadAsync(session.Connection, null, cancellation);
        var (units, unknown) = await ComparedUnits.FindAsync(session.Connection, search, cancellation);
        if (unknown is { } unit)
        {
            var place = string.Create(CultureInfo.InvariantCulture, $"/units/{search.Units.IndexOf(unit)}");
            return (null, Refusal.At("unit-unknown", RefusalKind.Unknown, place, $"Unit {unit} is not known. Correct its item and serial number."));
        }

        var factors = units is null ? [] : await new FactorRows(session.Connection, search.Kinds).ReadAsync(units, cancellation);
        var answer = SharedFactorSearch.Run(factors, search.ErrorRate);
        return (View(asOf, search, units, answer, completeness), null);
    }

    private static SharedFactorFound View(DateTimeOffset asOf, Search search, ComparedUnits? units, SharedFactorAnswer answer, Completeness completeness) => new(
        asOf,
        answer.Cases,
        answer.Others,
        units is null ? null : new(units.Items, units.From, units.To, units.Fitting),
        answer.Tried,
        search.ErrorRate,
        [.. answer.Groups.Take(GroupsMax).Select(View)],
        new(answer.Power.LeastAdjusted, answer.Power.ShareOfCases, answer.Power.ShareOfOthers, answer.Power.Chance, answer.Power.IsTooSmall),
        completeness,
        units is null ? ["No finding that counts as a defect fits, so no unit failed that way."] : [.. Remarks(search, units, answer)]);

    private static SharedFactorGroup View(FactorGroup group)
    {
        var interval = group.Interval;
        return new(
            [.. group.Factors.Select(f => new SharedFactor(EnumNames<FactorKind>.Of(f.Kind), f.Name, f.Of))],
            group.Table.CasesWith,
            group.Table.Cases,
            group.Table.OthersWith,
            group.Table.Others,
            group.P,
            group.Adjusted,
            group.IsSignificant,
            Finite(group.OddsRatio),
            interval?.Lower,
            Finite(interval?.Upper));
    }

    private static double? Finite(double? value) => value is { } number && double.IsFinite(number) ? number : null;

    private static IEnumerable<string> Remarks(Search search, ComparedUnits units, SharedFactorAnswer answer)
    {
        if (answer.Others == 0)
        {
            yield return "No unit of the same items and period ended without being scrapped, so there is nothing to compare with.";
        }
        else if (answer.Power.LeastAdjusted > search.ErrorRate)
        {
            yield return string.Create(
                CultureInfo.InvariantCulture,
                $"Too few units: with {answer.Cases} failed, {answer.Others} compared and {answer.Tried} factors tried, no factor could have been called significant.");
        }
        else if (answer.Power.IsTooSmall)
        {
            yield return string.Create(
                CultureInfo.InvariantCulture,
                $"Few units: a cause that {answer.Power.ShareOfCases:0%} of the failed and {answer.Power.ShareOfOthers:0%} of the others have would be called significant with a chance of {answer.Power.Chance:0%} only. Finding nothing says little.");
        }

        if (answer.Groups.Any(g => g.IsSignificant && g.Factors.Length > 1))
        {
            yield return "Factors in one group are in the same units: no record tells which of them is behind the failures.";
        }

        if (units.Fitting > answer.Others)
        {
            yield return string.Create(CultureInfo.InvariantCulture, $"{units.Fitting} units fit the comparison; {answer.Others} of them were taken.");
        }

        if (units.FailedLeftOut > 0)
        {
            yield return string.Create(CultureInfo.InvariantCulture, $"{units.FailedLeftOut} more units failed; the {answer.Cases} that failed last were taken.");
        }

        if (answer.Groups.Length > GroupsMax)
        {
            yield return string.Create(CultureInfo.InvariantCulture, $"{answer.Groups.Length} groups of factors were tried; the first {GroupsMax} are shown.");
        }
    }
}
