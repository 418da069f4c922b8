using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.People;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;

namespace Traceability.Service.Features.People;

/// <summary>GET /api/people/qualifications.</summary>
internal static class ListQualificationsEndpoint
{
    private const int Default = 200;
    private const int Most = 1_000;

    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="Qualification">Only this qualification: who may do the steps that ask for it.</param>
    /// <param name="ExpiringBefore">Only those that end before this moment (RFC 3339 with offset): who needs training.</param>
    /// <param name="Limit">The most entries, 1 to 1,000. Default: 200. The entries of one person are never parted, so a page may hold a few more.</param>
    /// <param name="After">Continue after this person: what the page before said.</param>
    internal sealed record Query(string? Qualification, string? ExpiringBefore, string? Limit, string? After);

    public static async Task<Results<Ok<QualificationPage>, ProblemHttpResult>> HandleAsync(
        [AsParameters] Query query, HttpRequest request, QualificationReader people, TimeProvider clock, CancellationToken cancellation)
    {
        _ = query;
        var reader = new QueryReader(request.Query);
        var qualification = reader.Code<Code>("qualification");
        var expiringBefore = reader.Time("expiringBefore");
        var limit = reader.Integer("limit", 1, Most, Default);
        var after = reader.Code<PersonCode>("after");
        return reader.Finish() is { } refusal
            ? refusal.ToProblem()
            : TypedResults.Ok(await people.ReadAsync(new(qualification, expiringBefore, limit, after), clock.GetUtcNow(), cancellation));
    }
}
