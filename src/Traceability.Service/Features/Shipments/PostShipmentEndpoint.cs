using System.Globalization;
using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Facts;
using Traceability.Contracts.Shipments;
using Traceability.Contracts.Units;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Shipments;

/// <summary>POST /api/shipments: several units leave to a consignee, by one decision.</summary>
internal static class PostShipmentEndpoint
{
    public static void Map(IEndpointRouteBuilder api) =>
        api.MapPost("/shipments", HandleAsync)
            .RequireAuthorization(Policies.Decide)
            .WithName("shipUnits")
            .WithTags("Shipments")
            .WithSummary("Lets several units leave to a consignee by one decision: all of them or none")
            .WithDescription(
                "Judges every unit and the units inside it at this moment, and records one unit-shipped fact for each, in one transaction. "
                + "Refused with shipment-blocked while one of them may not leave: not released, on hold, gone already, or lacking by now what a release asks for. "
                + "The problem's member blocked lists every such unit with everything that is in its way; nothing is recorded of any unit then. "
                + "Says what was recorded against which rule, never that a unit is safe or fit for use. A unit that left and was not asked about is reported as unit-shipped, and always recorded.")
            .Accepts<ShipmentRequest>("application/json")
            .Produces<ShipmentReceipt>(StatusCodes.Status201Created)
            .Produces<ShipmentReceipt>()
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound)
            .ProducesProblem(StatusCodes.Status409Conflict)
            .ProducesProblem(StatusCodes.Status503ServiceUnavailable);

    private static async Task<Results<Created<ShipmentReceipt>, Ok<ShipmentReceipt>, ProblemHttpResult>> HandleAsync(
        HttpContext context, ShipmentDesk desk, CancellationToken cancellation)
    {
        var (asked, faults) = ShipmentReader.Read(await RequestBody.ReadAsync(context.Request, cancellation));
        if (asked is null)
        {
            return new Refusal("shipment-malformed", RefusalKind.Malformed, "The shipment can't be read. Every fault is listed with its place.", faults).ToProblem();
        }

        switch (await desk.ShipAsync(asked, Caller.Of(context), cancellation))
        {
            case ShipmentAnswer.Shipped shipped:
                var receipt = Of(asked, shipped);
                return receipt.IsRepeat ? TypedResults.Ok(receipt) : TypedResults.Created((string?)null, receipt);
            case ShipmentAnswer.Refused refused:
                return Problem(refused);
            case ShipmentAnswer.Unavailable { Later: var later }:
                context.Response.Headers.RetryAfter = ((int)later.RetryAfter.TotalSeconds).ToString(CultureInfo.InvariantCulture);
                return Problems.Of(ProblemKind.StoreUnavailable, later.Reason);
            default:
                throw new System.Diagnostics.UnreachableException();
        }
    }

    private static ShipmentReceipt Of(AskedShipment asked, ShipmentAnswer.Shipped shipped) => new(
        asked.Id,
        shipped.Receipts.Max(r => r.RecordedAt),
        shipped.Receipts.All(r => r.IsRepeat),
        [.. shipped.Receipts.Select(r => new ShippedUnitReceipt(Reference(((Domain.ProductUnits.UnitShipped)r.Posted.Fact).Unit), r.Posted.Id, r.Version))]);

    private static ProblemHttpResult Problem(ShipmentAnswer.Refused refused)
    {
        var problem = refused.Reason.ToProblem();
        if (!refused.Blocked.IsEmpty)
        {
            problem.ProblemDetails.Extensions["blocked"] = refused.Blocked
                .Select(b => new BlockedUnitView(
                    Reference(b.Unit),
                    [.. b.Blockers.Select(r => new BlockerView(Reference(r.Unit), r.Code, r.Step?.Value, r.Rule, r.Record, r.Detail))]))
                .ToArray();
        }

        return problem;
    }

    private static UnitRef Reference(UnitKey key) => new() { Item = key.Item.Value, Serial = key.Serial.Value };
}
