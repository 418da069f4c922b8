using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Facts;
using Traceability.Domain.Lots;
using Traceability.Domain.Routings;

namespace Traceability.Service.Features.MasterData;

/// <summary>What the service knows already, as far as a master-data file may refer to it or contradict it.</summary>
internal sealed class MasterDataStore(NpgsqlDataSource database)
{
    /// <summary>A look-up of the sites, stations, items, people and revisions that are recorded.</summary>
    public async Task<Func<DefinitionKind, string, bool>> NamesAsync(CancellationToken cancellation)
    {
        var streams = new HashSet<string>(StringComparer.Ordinal);
        await using var command = database.CreateCommand(
            """
            select id from events.mt_streams where id like 'site/%' or id like 'station/%' or id like 'item/%' or id like 'person/%'
            union select s.id || '/' || d.revision from events.mt_streams s cross join lateral (
                select e.data #>> '{revision,revision}' as revision from events.mt_events e where e.stream_id = s.id and e.type = 'routing_drafted' offset 0) d
            where s.id like 'routing/%'
            """);
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            streams.Add(reader.GetString(0));
        }

        return (kind, name) => streams.Contains(kind switch
        {
            DefinitionKind.Site => $"site/{name}",
            DefinitionKind.Station => $"station/{name}",
            DefinitionKind.Item => $"item/{name}",
            DefinitionKind.Person => $"person/{name}",
            DefinitionKind.Revision => $"routing/{name}",
            _ => throw new ArgumentOutOfRangeException(nameof(kind)),
        });
    }

    /// <summary>Definitions that can only be made once, and were made before with another content.</summary>
    public async Task<ImmutableArray<MasterDataError>> ContradictionsAsync(ImmutableArray<MasterDataFact> facts, CancellationToken cancellation)
    {
        var ids = await TextsAsync("select fact_id::text from traceability.receipt where fact_id = any($1)", facts.Select(f => f.Fact.Id).ToArray(), NpgsqlDbType.Uuid, cancellation);
        var unknown = facts.Where(f => !ids.Contains(f.Fact.Id.ToString())).ToArray();
        var lots = await TextsAsync(
            "select id from events.mt_streams where id = any($1)",
            unknown.Select(f => f.Fact.Fact).OfType<LotReceived>().Select(l => StreamNames.Of(l.Lot)).ToArray(), NpgsqlDbType.Varchar, cancellation);
        var released = await TextsAsync(
            "select stream_id || '/' || (data ->> 'revision') from events.mt_events where stream_id = any($1) and type = 'routing_released'",
            unknown.Select(f => f.Fact.Fact).OfType<RoutingDrafted>().Select(r => StreamNames.OfRouting(r.Revision.Item)).ToArray(), NpgsqlDbType.Varchar, cancellation);

        var errors = ImmutableArray.CreateBuilder<MasterDataError>();
        foreach (var fact in unknown)
        {
            var detail = fact.Fact.Fact switch
            {
                LotReceived l when lots.Contains(StreamNames.Of(l.Lot)) =>
                    $"Lot {l.Lot} was received before, with another content. Take it out of the file, or correct it with record-corrected.",
                RoutingDrafted { Revision: var r } when released.Contains($"{StreamNames.OfRouting(r.Item)}/{r.Revision}") =>
                    $"Revision {r.Revision} of {r.Item} is released with another content and can't be changed. Draft the next revision.",
                _ => null,
            };
            if (detail is not null)
            {
                errors.Add(new(fact.Pointer, fact.Line, fact.Column, detail));
            }
        }

        return errors.DrainToImmutable();
    }

    private async Task<HashSet<string>> TextsAsync(string sql, Array values, NpgsqlDbType type, CancellationToken cancellation)
    {
        var found = new HashSet<string>(StringComparer.Ordinal);
        await using var command = database.CreateCommand(sql);
        command.Parameters.Add(new() { Value = values, NpgsqlDbType = NpgsqlDbType.Array | type });
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            found.Add(reader.GetString(0));
        }

        return found;
    }
}
