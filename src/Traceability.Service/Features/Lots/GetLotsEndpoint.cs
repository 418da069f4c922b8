using System.Globalization;
using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Definitions;
using Traceability.Contracts.Lots;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;

namespace Traceability.Service.Features.Lots;

/// <summary>The questions about lots.</summary>
internal static class GetLotsEndpoint
{
    private const int Default = 200;
    private const int Most = 1_000;

    public static async Task<Results<Ok<DefinitionPage<LotView>>, ProblemHttpResult>> ListAsync(
        string item, string? limit, string? after, LotReader lots, CancellationToken cancellation)
    {
        var path = new PathCodes();
        var number = path.Read<ItemNumber>("item", item);
        if (path.Refusal is { } refusal || !TryRead(limit, after, out var count, out refusal))
        {
            return refusal!.ToProblem();
        }

        return TypedResults.Ok(await lots.ListAsync(number, after, count, cancellation));
    }

    public static Task<Results<Ok<LotView>, ProblemHttpResult>> OneAsync(string item, string lot, LotReader lots, CancellationToken cancellation) =>
        AnswerAsync(item, lot, lots.FindAsync, cancellation);

    public static Task<Results<Ok<LotLineageView>, ProblemHttpResult>> LineageAsync(string item, string lot, LotReader lots, CancellationToken cancellation) =>
        AnswerAsync(item, lot, lots.LineageAsync, cancellation);

    public static Task<Results<Ok<LotBalanceView>, ProblemHttpResult>> BalanceAsync(string item, string lot, LotReader lots, CancellationToken cancellation) =>
        AnswerAsync(item, lot, lots.BalanceAsync, cancellation);

    public static async Task<Results<Ok<IReadOnlyList<LotView>>, ProblemHttpResult>> OfSupplierLotAsync(
        string? supplierLot, string? supplier, LotReader lots, CancellationToken cancellation)
    {
        if (string.IsNullOrWhiteSpace(supplierLot))
        {
            return Refusal.At("query-invalid", RefusalKind.Malformed, "supplierLot", "Give the supplier's lot as it is marked.").ToProblem();
        }

        if (supplier is not null && string.IsNullOrWhiteSpace(supplier))
        {
            return Refusal.At("query-invalid", RefusalKind.Malformed, "supplier", "Give the supplier as it was recorded, or leave it out.").ToProblem();
        }

        var found = await lots.OfSupplierLotAsync(supplierLot, supplier, cancellation);
        return found.Count > 0
            ? TypedResults.Ok(found)
            : Refusal.At("lot-unknown", RefusalKind.Unknown, "supplierLot", $"No lot was received as supplier's lot {supplierLot}. Check its number, and the supplier.").ToProblem();
    }

    private static async Task<Results<Ok<T>, ProblemHttpResult>> AnswerAsync<T>(
        string item, string lot, Func<LotKey, CancellationToken, Task<T?>> find, CancellationToken cancellation)
        where T : class
    {
        var path = new PathCodes();
        var key = new LotKey(path.Read<ItemNumber>("item", item), path.Read<LotNumber>("lot", lot));
        if (path.Refusal is { } refusal)
        {
            return refusal.ToProblem();
        }

        return await find(key, cancellation) is { } found
            ? TypedResults.Ok(found)
            : Refusal.At("lot-unknown", RefusalKind.Unknown, "lot", $"Lot {key} is not known. Define it first, or correct the address.").ToProblem();
    }

    private static bool TryRead(string? limit, string? after, out int count, out Refusal? refusal)
    {
        var faults = new List<Fault>();
        count = Default;
        if (limit is not null && (!int.TryParse(limit, NumberStyles.None, CultureInfo.InvariantCulture, out count) || count is < 1 or > Most))
        {
            faults.Add(new("limit", $"A whole number from 1 to {Most} is expected."));
        }

        if (after is not null && !Codes.TryParse<LotNumber>(after, out _))
        {
            faults.Add(new("after", "Give what the page before said, unchanged."));
        }

        refusal = faults.Count == 0 ? null : new("query-invalid", RefusalKind.Malformed, "The query can't be read. Every fault is listed.", [.. faults]);
        return refusal is null;
    }
}
