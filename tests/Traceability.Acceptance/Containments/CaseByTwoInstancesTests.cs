using System.Text.Json;
using Traceability.Acceptance.Releases;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts.Containments;
using Traceability.Domain.Primitives;
using Traceability.Service.Storage.Containments;
using Traceability.Testing;

namespace Traceability.Acceptance.Containments;

/// <summary>An instance that keeps a case in memory sees what another one has recorded of it.</summary>
public sealed class CaseByTwoInstancesTests
{
    private const int LampCount = 12;

    [Fact]
    public async Task What_one_instance_records_of_a_case_the_other_goes_on_from()
    {
        await using var host = await ServiceHost.StartAsync();
        await using var other = await ServiceHost.StartBesideAsync(host);
        var lamps = new Lamps(host, 91);
        await lamps.DefineAsync();
        for (var i = 1; i <= LampCount; i++)
        {
            await lamps.TellAsync([.. lamps.Works.SimpleLamp(i, i)]);
        }

        var opening = JsonSerializer.Serialize(new
        {
            factId = lamps.Works.Id(),
            containment = "CASE-1",
            title = "Bad glue",
            reason = "gels late",
            suspect = new { kind = "lot", item = "ADH", lot = "L1" },
            person = "P-9",
        });
        Assert.Equal(201, (await Lamps.SendAsAsync(host.Quality, "/api/containments", opening)).Status);

        // In turns, one voided by the other instance: each time the case must be read as the other left it.
        Guid last = default;
        for (var i = 1; i <= LampCount; i++)
        {
            var by = i % 2 == 0 ? host : other;
            if (i == LampCount / 2)
            {
                var reply = await Terminal.PostAsync(by.Quality, lamps.Works.Fact("record-voided", 400 + i, TimeSpan.Zero, null, "P-9", $"\"record\":\"{last}\",\"reason\":\"wrong lamp\",\"authorisedBy\":\"P-9\""));
                Assert.Equal(201, reply.Status);
            }

            var followUp = lamps.Works.Fact("follow-up-recorded", 400 + i, TimeSpan.Zero, null, "P-9", $$"""
                "containment":"CASE-1","outcome":"inspected-good","units":[{"item":"LAMP","serial":"{{i}}"}]
                """);
            last = followUp.Id;
            Assert.Equal(201, (await Terminal.PostAsync(by.Quality, followUp)).Status);
        }

        var open = Assert.Single((await lamps.AskAsync<ContainmentMemberPage>("/api/containments/CASE-1/members?only=open")).Members);
        Assert.Equal(((LampCount / 2) - 1).ToString(System.Globalization.CultureInfo.InvariantCulture), open.Unit.Serial);

        // At once, each of another lamp: none is lost.
        var again = Enumerable.Range(1, LampCount).Select(i => lamps.Works.Fact("follow-up-recorded", 500, TimeSpan.Zero, null, "P-9", $$"""
            "containment":"CASE-1","outcome":"scrapped","units":[{"item":"LAMP","serial":"{{i}}"}]
            """)).ToArray();
        await Task.WhenAll(again.Select((f, i) => Terminal.PostAllAsync(i % 2 == 0 ? host.Quality : other.Quality, [f], batch: 1)));
        var figures = (await lamps.AskAsync<ContainmentView>("/api/containments/CASE-1")).Figures;
        Assert.Equal((LampCount, 0), (figures.Members, figures.Open));
        await RequireRowsOfStreamAsync(host);
    }

    // The rows, written by differences, say what the whole stream says.
    private static async Task RequireRowsOfStreamAsync(ServiceHost host)
    {
        await using var connection = await host.Database.OpenConnectionAsync();
        var found = await ContainmentRows.FindAsync(connection, ContainmentId.Parse("CASE-1"), default);
        await using var command = new Npgsql.NpgsqlCommand("select unit || ' ' || coalesce(outcome_record::text, '') from traceability.containment_member order by unit collate \"C\"", connection);
        await using var reader = await command.ExecuteReaderAsync();
        var rows = new List<string>();
        while (await reader.ReadAsync())
        {
            rows.Add(reader.GetString(0));
        }

        Assert.Equal(found!.Members.Values.Select(m => $"{m.Unit} {m.Outcome?.Record}").Order(StringComparer.Ordinal), rows);
    }
}
