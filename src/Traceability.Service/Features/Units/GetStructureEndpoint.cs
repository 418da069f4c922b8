using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Facts;
using Traceability.Contracts.Units;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Units;

/// <summary>GET /api/units/{item}/{serial}/structure: what the unit was made of, as built or at any moment.</summary>
internal static class GetStructureEndpoint
{
    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="AsBuilt">true: when it was first released. Default: false.</param>
    /// <param name="AsOf">The moment, by when things happened (RFC 3339 with offset). Default: now.</param>
    /// <param name="KnownAt">By what had been recorded at this moment (RFC 3339 with offset). Default: by all that is known now.</param>
    internal sealed record Query(string? AsBuilt, string? AsOf, string? KnownAt);

    public static void Map(IEndpointRouteBuilder api) =>
        api.MapGet("/units/{item}/{serial}/structure", HandleAsync)
            .RequireAuthorization(Security.Policies.Read)
            .WithName("getStructure")
            .WithTags("Units")
            .WithSummary("Tells what a unit was made of: as built, now, or at any past moment")
            .WithDescription(
                "With asBuilt=true: when it was first released; with asOf: at that moment, by when things happened; with neither: now (as maintained). "
                + "With knownAt: by what had been recorded at that moment, so that an earlier answer can be given again.")
            .Produces<StructureView>()
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound);

    private static async Task<Results<Ok<StructureView>, ProblemHttpResult>> HandleAsync(
        [AsParameters] Query query, HttpRequest request, string item, string serial, UnitReader units, TimeProvider clock, CancellationToken cancellation)
    {
        _ = query;
        var path = new PathCodes();
        var unit = path.Unit(item, serial);
        var reader = new QueryReader(request.Query);
        var (isBuilt, asOf, knownAt) = (reader.Flag("asBuilt"), reader.Time("asOf"), reader.Time("knownAt"));
        if (isBuilt && asOf is not null)
        {
            reader.Note("asOf", "is another moment than as built. Give one of them.");
        }

        if ((path.Refusal ?? reader.Finish()) is { } refusal)
        {
            return refusal.ToProblem();
        }

        var at = isBuilt ? (DateTimeOffset?)null : asOf ?? clock.GetUtcNow();
        var found = await units.FindTreeAsync(
            unit,
            [],
            judged =>
            {
                // The moment of the unit itself is the moment of all that was inside it.
                at ??= UnitStructure.BuiltAt(judged.Unit, knownAt);
                return at is { } then && UnitStructure.Of(judged.Unit, judged.References, then, knownAt) is { } structure ? structure.Inside.Select(i => i.Component) : [];
            },
            cancellation);
        if (found is null)
        {
            return UnitProblems.Unknown(unit);
        }

        if (at is not { } moment)
        {
            return Refusal.At("unit-not-built", RefusalKind.Unknown, "asBuilt", $"{unit} was not released by then, so there is no as-built record of it. Ask with asOf, or release it first.").ToProblem();
        }

        return View(found, moment, knownAt) is { } view
            ? TypedResults.Ok(new StructureView(moment.ToUniversalTime(), knownAt, view, found.All.All(u => !u.Judgement.Status.HasUnreadable)))
            : Refusal.At("unit-unknown", RefusalKind.Unknown, "serial", $"Unit {unit} was not open at that moment, or not known to be.").ToProblem();
    }

    private static StructureUnit? View(JudgedTree tree, DateTimeOffset at, DateTimeOffset? knownAt)
    {
        if (UnitStructure.Of(tree.Judged.Unit, tree.Judged.References, at, knownAt) is not { } structure)
        {
            return null;
        }

        return new(
            Reference(structure.Unit),
            EnumNames<Place>.Of(structure.Standing.Shown),
            [.. structure.Lots.Select(l => new StructureLot(l.Lot.Item.Value, l.Lot.Lot.Value, l.Container?.Value, l.Step?.Value, l.Record, l.IsOneOf))],
            [.. structure.Inside.Select(i => new StructureComponent(
                i.Position.Value,
                i.From,
                i.Record,
                Reference(i.Component),
                tree.Inside.FirstOrDefault(t => t.Judged.Unit.Key == i.Component) is { } inside ? View(inside, at, knownAt) : null))]);
    }

    private static UnitRef Reference(UnitKey key) => new() { Item = key.Item.Value, Serial = key.Serial.Value };
}
