using System.Globalization;
using Microsoft.AspNetCore.Http.HttpResults;
using Npgsql;
using Traceability.Contracts.Containments;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Http.Reading;
using Traceability.Service.Security;
using Traceability.Service.Storage.Answers;
using Traceability.Service.Storage.Scopes;

namespace Traceability.Service.Features.Containments;

/// <summary>The addresses that open a case and act on it.</summary>
internal static class ContainmentEndpoints
{
    private static readonly Shape HoldsForm = new("person");

    public static async Task<Results<Created<ContainmentView>, Ok<ContainmentView>, ProblemHttpResult>> OpenAsync(
        HttpContext context, CaseDesk desk, IScopeQuestions questions, CaseReader reader, NpgsqlDataSource database, CancellationToken cancellation)
    {
        var (asked, refusal) = ContainmentRequestReading.Read(await RequestBody.ReadAsync(context.Request, cancellation), questions);
        if (asked is null)
        {
            return refusal!.ToProblem();
        }

        try
        {
            var (opening, refused) = await desk.OpenAsync(asked, Caller.Of(context), cancellation);
            if (opening is null)
            {
                return refused!.ToProblem();
            }

            await using var connection = await database.OpenConnectionAsync(cancellation);
            var view = (await reader.FindAsync(connection, asked.Containment, cancellation))!;
            return opening.IsRepeat ? TypedResults.Ok(view) : TypedResults.Created($"/api/containments/{asked.Containment}", view);
        }
        catch (CaseNotStoredException exception)
        {
            return Later(context, exception);
        }
    }

    public static async Task<Results<Ok<ContainmentRefreshed>, ProblemHttpResult>> RefreshAsync(
        HttpContext context, string id, CaseDesk desk, CancellationToken cancellation)
    {
        if (!TryRead(id, out var containment, out var invalid))
        {
            return invalid!.ToProblem();
        }

        try
        {
            return await desk.RunAsync(containment, Caller.Of(context).Name, cancellation) is { } run
                ? TypedResults.Ok(new ContainmentRefreshed(
                    run.Found.AsOf,
                    run.Found.Completeness.IsComplete,
                    run.Found.Units.Length,
                    run.Difference.Added,
                    run.Difference.Changed,
                    run.Difference.NotReached,
                    run.Found.Remarks))
                : Unknown(containment).ToProblem();
        }
        catch (CaseNotStoredException exception)
        {
            return Later(context, exception);
        }
    }

    public static async Task<Results<Ok<HoldsSet>, ProblemHttpResult>> HoldAsync(
        HttpContext context, string id, HoldDesk desk, NpgsqlDataSource database, CancellationToken cancellation)
    {
        if (!TryRead(id, out var containment, out var invalid))
        {
            return invalid!.ToProblem();
        }

        var (asked, refusal) = QuestionReading.Read(await RequestBody.ReadAsync(context.Request, cancellation), static (reading, element) =>
        {
            using var o = reading.Open(element, HoldsForm);
            return new AskedHolds(o.Code<PersonCode>("person"));
        });
        if (asked is null)
        {
            return refusal!.ToProblem();
        }

        await using (var connection = await database.OpenConnectionAsync(cancellation))
        {
            if (!await ContainmentLists.IsKnownAsync(connection, containment, cancellation))
            {
                return Unknown(containment).ToProblem();
            }
        }

        try
        {
            return TypedResults.Ok(await desk.SetAsync(containment, onlyLate: false, asked.Person, Caller.Of(context).Name, cancellation));
        }
        catch (CaseNotStoredException exception)
        {
            return Later(context, exception);
        }
    }

    public static async Task<Results<Ok<ContainmentView>, ProblemHttpResult>> GetAsync(
        string id, CaseReader reader, AnswerDatabase database, CancellationToken cancellation)
    {
        if (!TryRead(id, out var containment, out var invalid))
        {
            return invalid!.ToProblem();
        }

        await using var session = await database.OpenAsync(cancellation);
        return await reader.FindAsync(session.Connection, containment, cancellation) is { } view ? TypedResults.Ok(view) : Unknown(containment).ToProblem();
    }

    /// <summary>Reads the number of a case out of the path.</summary>
    public static bool TryRead(string id, out ContainmentId containment, out Refusal? refusal)
    {
        var path = new PathCodes();
        containment = path.Read<ContainmentId>("id", id);
        refusal = path.Refusal;
        return refusal is null;
    }

    /// <summary>There is no such case.</summary>
    public static Refusal Unknown(ContainmentId containment) =>
        Refusal.At("containment-unknown", RefusalKind.Unknown, "id", $"Containment {containment} is not known. Correct its number; the list of containments tells all.");

    private static ProblemHttpResult Later(HttpContext context, CaseNotStoredException exception)
    {
        context.Response.Headers.RetryAfter = ((int)exception.Later.RetryAfter.TotalSeconds).ToString(CultureInfo.InvariantCulture);
        return Problems.Of(ProblemKind.StoreUnavailable, exception.Later.Reason);
    }

    private sealed record AskedHolds(PersonCode Person);
}
