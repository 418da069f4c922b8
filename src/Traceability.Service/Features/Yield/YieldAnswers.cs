using Microsoft.AspNetCore.Http.HttpResults;
using Npgsql;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Yield;

/// <summary>A yield question with everything looked up, and the snapshot of the database to answer it from.</summary>
internal sealed record YieldScope(
    NpgsqlConnection Connection, YieldQuestion Question, CatalogueEntry Entry, DateOnly From, DateOnly To, DateTimeOffset AsOf);

/// <summary>Answers yield questions, each from one snapshot of the database.</summary>
internal sealed class YieldAnswers(AnswerDatabase database, ItemCatalogue catalogue, TimeProvider clock)
{
    /// <summary>Looks up what the question names, then answers it; a problem where something is not known.</summary>
    public async Task<Results<Ok<T>, ProblemHttpResult>> AnswerAsync<T>(
        YieldQuestion question, Func<YieldScope, Task<T>> answer, CancellationToken cancellation)
    {
        var asOf = clock.GetUtcNow();
        await using var session = await database.OpenAsync(cancellation);
        var connection = session.Connection;
        if (await catalogue.FindAsync(connection, question.Item, cancellation) is not { } entry)
        {
            return ItemCatalogue.Unknown(question.Item).ToProblem();
        }

        if (await FindUnknownAsync(connection, question, entry, cancellation) is { } refusal)
        {
            return refusal.ToProblem();
        }

        var to = question.To ?? await catalogue.LatestDayAsync(connection, asOf, cancellation);
        var from = question.From ?? to.AddDays(1 - YieldQuestion.DaysDefault);

        // Only where the last day is today: then a first day after it asks about what has not happened.
        to = to < from ? from : to;
        return to.DayNumber - from.DayNumber < YieldQuestion.DaysMax
            ? TypedResults.Ok(await answer(new(connection, question, entry, from, to, asOf)))
            : Refusal.At(QueryReader.Invalid, RefusalKind.Malformed, "from", $"The period is longer than {YieldQuestion.DaysMax} days.").ToProblem();
    }

    private async Task<Refusal?> FindUnknownAsync(
        NpgsqlConnection connection, YieldQuestion question, CatalogueEntry entry, CancellationToken cancellation)
    {
        if (question.Step is { } step && !entry.HasStep(step))
        {
            return Unknown("step", $"No routing revision of {question.Item} has a step {step}.");
        }

        if (question.Variant is { } variant && !entry.Item.Variants.Contains(variant))
        {
            return Unknown("variant", $"Item {question.Item} has no variant {variant}.");
        }

        if (question.Revision is { } revision && entry.Routing?.FindReleased(revision) is null)
        {
            return Unknown("revision", $"No routing revision {revision} of {question.Item} is released.");
        }

        return question.Station is { } station && !await catalogue.HasAsync(connection, station, cancellation)
            ? ItemCatalogue.Unknown(station)
            : null;

        static Refusal Unknown(string what, string detail) => Refusal.At($"{what}-unknown", RefusalKind.Unknown, what, detail);
    }
}
