using System.Data;
using Npgsql;
using Traceability.Contracts.People;
using Traceability.Domain.Facts;
using Traceability.Domain.People;
using Traceability.Domain.Primitives;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.People;

/// <summary>Which qualifications are asked for.</summary>
internal sealed record QualificationFilter(Code? Qualification, DateTimeOffset? ExpiringBefore, int Limit, PersonCode? After);

/// <summary>Reads people from their streams, as of now, and what they are qualified for.</summary>
internal sealed class QualificationReader(NpgsqlDataSource database)
{
    private const int PeopleAtOnce = 500;

    /// <summary>The entries, by person and qualification.</summary>
    public async Task<QualificationPage> ReadAsync(QualificationFilter filter, DateTimeOffset now, CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        await using var transaction = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation);
        var entries = new List<PersonQualification>();
        var after = StreamNames.PersonPrefix + filter.After;
        while (true)
        {
            var streams = await StreamsAsync(connection, after, cancellation);
            var facts = await EventReader.LoadAsync(connection, streams, cancellation);
            foreach (var stream in streams)
            {
                if (entries.Count >= filter.Limit)
                {
                    return new(now, entries, after[StreamNames.PersonPrefix.Length..]);
                }

                after = stream;
                entries.AddRange(Entries(Person.Of(PersonCode.Parse(stream[StreamNames.PersonPrefix.Length..]), facts.GetValueOrDefault(stream, [])), filter, now));
            }

            if (streams.Count < PeopleAtOnce)
            {
                return new(now, entries, null);
            }
        }
    }

    private static IEnumerable<PersonQualification> Entries(Person person, QualificationFilter filter, DateTimeOffset now) =>
        person.QualificationsAt(now)
            .Where(q => (filter.Qualification is not { } only || q.Qualification == only)
                && (filter.ExpiringBefore is not { } before || q.ValidUntil < before))
            .Select(q => new PersonQualification(
                person.Code.Value, person.Definition?.DisplayName ?? string.Empty, q.Qualification.Value, q.Record, q.Since, q.ValidUntil, q.Topic?.Value));

    private static async Task<List<string>> StreamsAsync(NpgsqlConnection connection, string after, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            """
            select stream from traceability.reference_stream
            where stream collate "C" > $1 and starts_with(stream, $2) order by stream collate "C" limit $3
            """,
            connection)
        {
            Parameters = { new() { Value = after }, new() { Value = StreamNames.PersonPrefix }, new() { Value = PeopleAtOnce } },
        };
        var streams = new List<string>();
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            streams.Add(reader.GetString(0));
        }

        return streams;
    }
}
