using Microsoft.AspNetCore.Http.HttpResults;
using Npgsql;
using Traceability.Contracts.Containments;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Containments.Report;

/// <summary>GET /api/containments/{id}/report: the whole case for a person to keep.</summary>
internal static class GetReportEndpoint
{
    // So many members are looked up at once.
    private const int Page = 1_000;

    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="Format">html, pdf or csv (the members). Default: html.</param>
    internal sealed record Query(string? Format);

    public static async Task<Results<FileContentHttpResult, ProblemHttpResult>> HandleAsync(
        string id, [AsParameters] Query query, HttpRequest request, CaseReader reader, AnswerDatabase database, CancellationToken cancellation)
    {
        _ = query;
        if (!ContainmentEndpoints.TryRead(id, out var containment, out var invalid))
        {
            return invalid!.ToProblem();
        }

        var question = new QueryReader(request.Query);
        var format = question.Text("format", t => t is "html" or "pdf" or "csv" ? t : null, "Known are html, pdf, csv.") ?? "html";
        if (question.Finish() is { } refusal)
        {
            return refusal.ToProblem();
        }

        await using var session = await database.OpenAsync(cancellation);
        if (await reader.FindAsync(session.Connection, containment, cancellation) is not { } view)
        {
            return ContainmentEndpoints.Unknown(containment).ToProblem();
        }

        var content = await ContentAsync(session.Connection, containment, view, cancellation);
        var name = $"containment-{containment}.{format}";
        switch (format)
        {
            case "csv":
                return TypedResults.Bytes(CsvReport.Write(content), "text/csv; charset=utf-8; header=present", name);
            case "pdf":
                return TypedResults.Bytes(PdfReport.Write(CaseReport.Of(content)), "application/pdf", name);
            default:
                request.HttpContext.Response.Headers.ContentSecurityPolicy = HtmlReport.ContentSecurityPolicy;
                return TypedResults.Bytes(HtmlReport.Write(CaseReport.Of(content)), "text/html; charset=utf-8");
        }
    }

    private static async Task<CaseContent> ContentAsync(
        NpgsqlConnection connection, ContainmentId containment, ContainmentView view, CancellationToken cancellation)
    {
        var members = await MemberRows.ReadAsync(connection, containment, null, null, int.MaxValue, cancellation);
        var consignees = new List<ConsigneeView>();
        foreach (var part in members.Where(m => m.Place == "shipped").OrderBy(m => m.Consignee, StringComparer.Ordinal).Chunk(Page))
        {
            consignees.AddRange(await Consignees.OfAsync(connection, part, cancellation));
        }

        // One may have members on both sides of where the look-up was cut.
        return new(
            view,
            [.. members.Select(m => m.View(containment))],
            [.. consignees.GroupBy(c => c.Consignee, c => c.Members, StringComparer.Ordinal).Select(g => new ConsigneeView(g.Key, [.. g.SelectMany(m => m)]))]);
    }
}
