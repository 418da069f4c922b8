using System.Text.Json;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts;
using Traceability.Contracts.Units;
using Traceability.Testing;

namespace Traceability.Acceptance.Releases;

/// <summary>May this unit leave, and who says so?</summary>
public sealed class ReleaseTests(ReleaseTests.Fixture fixture) : IClassFixture<ReleaseTests.Fixture>
{
    private ServiceHost Host => fixture.Host;

    private Lamps Lamps => fixture.Lamps;

    [Fact]
    public async Task A_complete_lamp_is_released_under_a_signature_that_its_record_shows()
    {
        await Lamps.TellAsync(Lamps.Complete(1, 0));
        var before = await Lamps.AskAsync<ReleaseState>("/api/units/LAMP/1/release");
        Assert.True(before.MayBeReleased, string.Join('\n', before.Blockers.Select(b => b.Detail)));
        var id = Lamps.Works.Id();
        var (status, body) = await Lamps.ReleaseAsync(1, id);
        Assert.Equal(201, status);
        var receipt = Read<ReleaseReceipt>(body);
        Assert.Equal(("P-9", "Noor Hale", "released"), (receipt.Signature.Person, receipt.Signature.PrintedName, receipt.Signature.Meaning));
        Assert.Equal(["LAMP/1 7", "HEAD/1 4"], receipt.Signature.Units.Select(u => $"{u.Unit.Item}/{u.Unit.Serial} {u.Version}"));

        var record = await Lamps.AskAsync<BuildRecord>("/api/units/LAMP/1/build-record");
        var shown = Assert.Single(record.Signatures);
        Assert.Equal((id, receipt.Signature.SignedAt, "Noor Hale", "released"), (shown.Record, shown.SignedAt, shown.PrintedName, shown.Meaning));
        Assert.Equal("in-stock", record.View.Unit.Place);
        Assert.Empty(record.View.Findings);
        var after = await Lamps.AskAsync<ReleaseState>("/api/units/LAMP/1/release");
        Assert.Equal(["already-released"], after.Blockers.Select(b => b.Code));
        Assert.True(Assert.Single(after.Signatures).Matches);

        // The answer was lost: the same request again, and others with its id.
        var (repeated, again) = await Lamps.ReleaseAsync(1, id);
        Assert.Equal(200, repeated);
        Assert.Equal(receipt.Signature.RecordHash, Read<ReleaseReceipt>(again).Signature.RecordHash);
        Assert.Equal("signing-secret-wrong", Code(await Lamps.ReleaseAsync(1, id, secret: "some other secret")));
        Assert.Equal("fact-id-reused", Code(await Lamps.ReleaseAsync(1, id, meaning: "reviewed")));
        Assert.Equal("release-blocked", Code(await Lamps.ReleaseAsync(1, Lamps.Works.Id())));
        Assert.DoesNotContain(Lamps.Secret, (await Host.Admin.GetStringAsync(new Uri("/api/units/LAMP/1/build-record", UriKind.Relative))), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Everything_that_an_unfinished_lamp_lacks_is_told_at_once_and_nothing_is_recorded()
    {
        await Lamps.TellAsync([.. Lamps.Works.SimpleLamp(2, 0), Lamps.Works.Fact("unit-held", 9, LampWorks.Unit("LAMP", 2) + ""","reason":"scratch" """)]);
        var (status, body) = await Lamps.ReleaseAsync(2, Lamps.Works.Id());
        Assert.Equal((409, "release-blocked"), (status, body.GetProperty("code").GetString()));
        string[] lacking = ["on-hold ", "step-not-done MARRY", "step-not-done SCREW", "step-not-done CLOSE", "step-not-done TEST", "interval-open CURE"];
        Assert.Equal(lacking, body.GetProperty("blockers").EnumerateArray().Select(b => $"{b.GetProperty("code").GetString()} {b.GetProperty("rule").GetString()}"));
        Assert.Equal(lacking.Length, body.GetProperty("errors").GetArrayLength());
        var view = await Lamps.AskAsync<UnitView>("/api/units/LAMP/2");
        Assert.Equal((4, "on-hold"), (view.Version, view.Unit.Place));
    }

    [Fact]
    public async Task A_hold_on_the_head_stops_the_lamp_until_it_is_lifted()
    {
        await Lamps.TellAsync([.. Lamps.Complete(3, 0), Lamps.Works.Fact("unit-held", 50, LampWorks.Unit("HEAD", 3) + ""","reason":"haze" """)]);
        var (_, body) = await Lamps.ReleaseAsync(3, Lamps.Works.Id());
        var blocker = Assert.Single(body.GetProperty("blockers").EnumerateArray());
        Assert.Equal(("HEAD", "on-hold"), (blocker.GetProperty("unit").GetProperty("item").GetString(), blocker.GetProperty("code").GetString()));
        await Lamps.TellAsync(Lamps.Works.Fact("unit-hold-lifted", 60, LampWorks.Unit("HEAD", 3) + ""","reason":"polished" """));
        Assert.Equal(201, (await Lamps.ReleaseAsync(3, Lamps.Works.Id())).Status);
    }

    [Fact]
    public async Task Wrong_secrets_are_refused_counted_and_lock_the_signature_until_a_new_one_is_set()
    {
        await using var own = await ServiceHost.StartAsync("--Signing:FailuresMax=3", "--Signing:Iterations=10000");
        var lamps = new Lamps(own, 77);
        await lamps.DefineAsync();
        await lamps.TellAsync(lamps.Complete(1, 0));

        // A right one in between begins the count anew: the lamp is released, so this signs nothing more.
        Assert.Equal("signing-secret-wrong", Code(await lamps.ReleaseAsync(1, lamps.Works.Id(), "wrong secret 1")));
        Assert.Equal("signing-secret-wrong", Code(await lamps.ReleaseAsync(1, lamps.Works.Id(), "wrong secret 2")));
        var id = lamps.Works.Id();
        Assert.Equal(201, (await lamps.ReleaseAsync(1, id)).Status);
        await Task.WhenAll(Enumerable.Range(0, 8).Select(i => lamps.ReleaseAsync(1, id, $"wrong secret {i}")));
        var (status, body) = await lamps.ReleaseAsync(1, id);
        Assert.Equal((403, "signing-locked"), (status, body.GetProperty("code").GetString()));
        await lamps.SetSecretAsync("another secret");
        Assert.Equal("signing-secret-wrong", Code(await lamps.ReleaseAsync(1, id)));
        Assert.Equal(200, (await lamps.ReleaseAsync(1, id, "another secret")).Status);
        using var gone = await own.Quality.DeleteAsync(new Uri("/api/people/P-9/signing-secret", UriKind.Relative));
        Assert.Equal("signing-secret-not-set", Code(await lamps.ReleaseAsync(1, id, "another secret")));

        await using var command = own.Database.CreateCommand("select count(*) from traceability.signing_secret");
        Assert.Equal(0L, await command.ExecuteScalarAsync());
    }

    [Fact]
    public async Task A_lock_ends_with_its_time()
    {
        await using var own = await ServiceHost.StartAsync("--Signing:FailuresMax=1", "--Signing:LockDuration=00:00:02", "--Signing:Iterations=10000");
        var lamps = new Lamps(own, 78);
        await lamps.DefineAsync();
        await lamps.TellAsync(lamps.Complete(1, 0));
        Assert.Equal("signing-secret-wrong", Code(await lamps.ReleaseAsync(1, lamps.Works.Id(), "wrong secret")));
        Assert.Equal("signing-locked", Code(await lamps.ReleaseAsync(1, lamps.Works.Id())));
        await Task.Delay(TimeSpan.FromSeconds(2.5));
        Assert.Equal(201, (await lamps.ReleaseAsync(1, lamps.Works.Id())).Status);
    }

    [Fact]
    public async Task The_stored_secret_is_not_the_secret_and_differs_for_equal_ones()
    {
        await Lamps.TellAsync(Lamps.Works.Define("person-defined", -600, """ "subject":"P-8","displayName":"Ilse Marr" """));
        using var content = System.Net.Http.Json.JsonContent.Create(new { secret = Lamps.Secret });
        using var answer = await Host.Quality.PutAsync(new Uri("/api/people/P-8/signing-secret", UriKind.Relative), content);
        Assert.Equal(System.Net.HttpStatusCode.NoContent, answer.StatusCode);
        await using var command = Host.Database.CreateCommand("select count(distinct hash), count(distinct salt), bool_or(position($1 in hash) > 0), min(length(salt)), min(iterations) from traceability.signing_secret");
        command.Parameters.Add(new() { Value = System.Text.Encoding.UTF8.GetBytes(Lamps.Secret) });
        await using var reader = await command.ExecuteReaderAsync();
        Assert.True(await reader.ReadAsync());
        Assert.Equal((2L, 2L, false, 16, 600_000), (reader.GetInt64(0), reader.GetInt64(1), reader.GetBoolean(2), reader.GetInt32(3), reader.GetInt32(4)));
    }

    [Fact]
    public async Task A_void_after_the_release_is_found_on_it_and_the_release_stays()
    {
        var facts = Lamps.Complete(4, 0);
        await Lamps.TellAsync(facts);
        Assert.Equal(201, (await Lamps.ReleaseAsync(4, Lamps.Works.Id())).Status);
        await Lamps.TellAsync(Lamps.Works.Fact("record-voided", 90, $""" "record":"{facts[^1].Id}","reason":"wrong lamp","authorisedBy":"P-9" """));
        var view = await Lamps.AskAsync<UnitView>("/api/units/LAMP/4");
        var finding = Assert.Single(view.Findings, f => f.Kind == "released-incomplete");
        Assert.Equal(("step-not-done", "TEST", "in-stock"), (finding.Rule, finding.Step, view.Unit.Place));
        Assert.True(Assert.Single((await Lamps.AskAsync<ReleaseState>("/api/units/LAMP/4/release")).Signatures).Matches);
    }

    [Fact]
    public async Task A_stored_fact_that_was_changed_no_longer_matches_what_was_signed()
    {
        var facts = Lamps.Complete(5, 0);
        await Lamps.TellAsync(facts);
        Assert.Equal(201, (await Lamps.ReleaseAsync(5, Lamps.Works.Id())).Status);

        // In the head, which was signed with the lamp; the way it could be done by hand.
        await using var command = Host.Database.CreateCommand("update events.mt_events set data = jsonb_set(data, '{measurements,0,value}', '2.1') where id = $1");
        command.Parameters.Add(new() { Value = facts[1].Id });
        Assert.Equal(1, await command.ExecuteNonQueryAsync());
        Assert.False(Assert.Single((await Lamps.AskAsync<ReleaseState>("/api/units/LAMP/5/release")).Signatures).Matches);
    }

    [Fact]
    public async Task Of_two_releases_at_once_one_is_recorded()
    {
        await Lamps.TellAsync(Lamps.Complete(6, 0));
        var answers = await Task.WhenAll(Enumerable.Range(0, 4).Select(_ => Lamps.ReleaseAsync(6, Lamps.Works.Id())));
        Assert.Single(answers, a => a.Status == 201);
        Assert.All(answers.Where(a => a.Status != 201), a => Assert.Contains(a.Body.GetProperty("code").GetString(), new[] { "release-blocked", "release-record-changed" }));
        Assert.Single((await Lamps.AskAsync<ReleaseState>("/api/units/LAMP/6/release")).Signatures);
    }

    [Fact]
    public async Task A_head_that_is_not_released_but_complete_is_released_by_itself_before_the_lamp()
    {
        await Lamps.TellAsync(Lamps.Head(7, 0, isReleased: false));
        Assert.True((await Lamps.AskAsync<ReleaseState>("/api/units/HEAD/7/release")).MayBeReleased);
        Assert.Equal(201, (await Lamps.ReleaseAsync(7, Lamps.Works.Id(), item: "HEAD")).Status);
        Assert.Equal("in-stock", (await Lamps.AskAsync<UnitView>("/api/units/HEAD/7")).Unit.Place);
    }

    private static string Code((int Status, JsonElement Body) answer) => answer.Body.TryGetProperty("code", out var code) ? code.GetString()! : $"{answer.Status}";

    private static T Read<T>(JsonElement body) => body.Deserialize<T>(WireJson.Options)!;

    /// <summary>A service with what lamps are built by.</summary>
    public sealed class Fixture : IAsyncLifetime
    {
        /// <summary>Gets the service.</summary>
        public ServiceHost Host { get; private set; } = null!;

        internal Lamps Lamps { get; private set; } = null!;

        /// <inheritdoc />
        public async Task InitializeAsync()
        {
            Host = await ServiceHost.StartAsync("--Signing:FailuresMax=100");
            Lamps = new(Host, 76);
            await Lamps.DefineAsync();
        }

        /// <inheritdoc />
        public async Task DisposeAsync() => await Host.DisposeAsync();
    }
}
