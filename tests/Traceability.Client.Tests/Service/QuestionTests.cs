using System.Security.Cryptography;
using Traceability.Acceptance.Releases;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts;
using Traceability.Contracts.Facts;
using Traceability.Contracts.Revisions;
using Traceability.Contracts.SharedFactors;
using Traceability.Contracts.Shipments;
using Traceability.Contracts.Units;
using Traceability.Testing;

namespace Traceability.Client.Tests.Service;

/// <summary>Every question and decision of the client against a real service: what it sends is understood, what comes back is read.</summary>
public sealed class QuestionTests : IAsyncLifetime, IDisposable
{
    private static readonly UnitRef Lamp = new() { Item = "LAMP", Serial = "1" };

    private ServiceHost host = null!;
    private Lamps lamps = null!;
    private TraceabilityClient client = null!;

    public async Task InitializeAsync()
    {
        host = await ServiceHost.StartAsync();
        lamps = new(host, 61);
        await lamps.DefineAsync();
        await lamps.TellAsync(lamps.Complete(1, 0));
        client = new(new() { Address = host.Address, Key = host.AdministratorKey });
    }

    public async Task DisposeAsync() => await host.DisposeAsync();

    public void Dispose() => client.Dispose();

    [Fact]
    public async Task A_lamp_is_released_shipped_and_found_again()
    {
        Assert.True((await client.GetReleaseAsync(Lamp)).MayBeReleased);
        var release = new ReleaseRequest { FactId = FactIds.Next(), Person = "P-9", Secret = Lamps.Secret, Meaning = "released" };
        Assert.Equal("Noor Hale", (await client.ReleaseAsync(Lamp, release)).Signature.PrintedName);
        Assert.True((await client.ReleaseAsync(Lamp, release)).IsRepeat);

        var shipment = new ShipmentRequest { ShipmentId = FactIds.Next(), Consignee = "Fell End & Sons", OrderReference = "O-7", Person = "P-9", Units = [Lamp] };
        Assert.Equal(Lamp, Assert.Single((await client.ShipAsync(shipment)).Units).Unit);
        var again = await Assert.ThrowsAsync<TraceabilityProblemException>(() => client.ShipAsync(shipment with { ShipmentId = FactIds.Next() }));
        Assert.Equal((ProblemCodes.ShipmentBlocked, "/units/0"), (again.Problem.Code, again.Problem.Errors![0].Pointer));
        var found = Assert.Single((await client.GetShipmentsAsync(consignee: "Fell End & Sons", order: "O-7", limit: 1)).Shipments);
        Assert.Equal((shipment.ShipmentId, "1"), (found.ShipmentId, Assert.Single(found.Units).Unit.Serial));

        Assert.Equal("HEAD", Assert.Single((await client.GetStructureAsync(Lamp)).Unit.Components).Position);
        Assert.Equal("1", Assert.Single((await client.GetStructureAsBuiltAsync(Lamp)).Unit.Components).Unit.Serial);
        Assert.Empty((await client.GetStructureAsync(Lamp, asOf: At(5))).Unit.Components);
    }

    [Fact]
    public async Task A_nonconformance_with_a_photo_is_listed_shown_and_in_the_view_of_its_unit()
    {
        byte[] photo = [0x89, (byte)'P', (byte)'N', (byte)'G', 0x0D, 0x0A, 0x1A, 0x0A, .. "no more than a name"u8];
        byte[] note = [.. "Seen at the edge"u8];
        var refused = await Assert.ThrowsAsync<TraceabilityProblemException>(() => client.StoreAttachmentAsync(photo, "image/png"));
        Assert.Equal(ProblemCodes.AttachmentMalformed, refused.Problem.Code);
        var stored = await client.StoreAttachmentAsync(note, "text/plain");
        Assert.Equal(Convert.ToHexStringLower(SHA256.HashData(note)), stored.Hash);
        Assert.Equal(note, await client.GetAttachmentAsync(stored.Hash));

        var report = await client.RecordAsync(new NonconformanceReported
        {
            OccurredAt = At(60), Station = LampWorks.Bench, Person = "P-1", Unit = Lamp, Defect = "CHIP", Description = "Chipped", Attachments = [stored.Hash],
        });
        var id = Assert.IsType<FactOutcome.Recorded>(report).Receipt.FactId;
        var listed = Assert.Single((await client.GetNonconformancesAsync(new() { Item = "LAMP", Serial = "1", OpenOnly = true, States = ["open", "under-decision"] })).Nonconformances);
        Assert.Equal((id.ToString(), "CHIP"), (listed.Id, listed.Rule));
        Assert.Equal(id, Assert.Single((await client.GetNonconformanceAsync(Lamp, listed.Id)).History).FactId);
        Assert.Equal(listed, Assert.Single((await client.GetUnitAsync(Lamp)).OpenNonconformances) with { Awaited = listed.Awaited });
        Assert.Empty((await client.GetNonconformancesAsync(new() { Defect = "NONE", Limit = 5 })).Nonconformances);
        Assert.Empty((await client.GetUnitAsync(new() { Item = "HEAD", Serial = "1" })).OpenNonconformances);
    }

    [Fact]
    public async Task Tools_lots_and_people_answer_for_themselves()
    {
        await lamps.TellAsync(
            lamps.Works.Define("tool-checked", 30, """ "tool":"SD-1","setting":"5","readings":[{"value":1.35,"unit":"N.m"}],"lower":{"value":1.1,"unit":"N.m"},"upper":{"value":1.3,"unit":"N.m"}"""),
            lamps.Works.Define("tool-studied", 31, """ "tool":"SD-1","setting":"5","joint":"HARD","readings":[{"value":1.2,"unit":"N.m"},{"value":1.21,"unit":"N.m"}]"""),
            lamps.Works.Define("lot-split", 32, """ "lot":{"item":"ADH","lot":"L3"},"source":{"lot":{"item":"ADH","lot":"L1"}} """));
        await Tables.SettleAsync(host.Database);
        Assert.Equal("SD-1", (await client.GetToolLifeAsync("SD-1")).Tool);
        Assert.Equal("5", Assert.Single((await client.GetToolCapabilityAsync("SD-1")).Settings).Setting);
        Assert.Equal("SD-1", (await client.GetToolDriftAsync("SD-1", "5")).Tool);
        Assert.Equal("LAMP", Assert.Single((await client.GetToolUsesAsync("SD-1", setting: "5", suspectOnly: true, limit: 10)).Uses).Item);
        Assert.Equal("L3", Assert.Single((await client.GetLotLineageAsync(new() { Item = "ADH", Lot = "L1" })).Derived).Into.Lot);
        Assert.Equal("L1", (await client.GetLotBalanceAsync(new() { Item = "ADH", Lot = "L1" })).Lot);
        Assert.Equal("L1", Assert.Single(await client.FindSupplierLotAsync("S-1")).Lot);
        Assert.Contains((await client.GetSupplierLotScopeAsync("S-1", limit: 100)).Members, m => m.Member.Serial == "1");
        Assert.Equal("P-1", Assert.Single((await client.GetQualificationsAsync("BONDING")).Entries).Person);
    }

    [Fact]
    public async Task A_batch_tells_what_was_taken_out_of_it()
    {
        var key = new BatchRef { Item = "HEAD", Batch = "B-1" };
        Assert.Equal(ProblemCodes.BatchUnknown, (await Assert.ThrowsAsync<TraceabilityProblemException>(() => client.GetBatchAsync(key.Item, key.Batch))).Code);
        Assert.IsType<FactOutcome.Recorded>(await client.RecordAsync(new BatchFormed { OccurredAt = At(10), Station = LampWorks.Bench, Person = "P-1", Batch = key, Count = 2 }));
        Assert.IsType<FactOutcome.Recorded>(await client.RecordAsync(new UnitOpened
        {
            OccurredAt = At(20), Station = LampWorks.Bench, Person = "P-1", Unit = new() { Item = "HEAD", Serial = "90" }, Batch = "B-1",
        }));
        var batch = await client.GetBatchAsync("HEAD", "B-1");
        Assert.Equal((2, "90"), (batch.Count, Assert.Single(batch.Units).Serial));
    }

    [Fact]
    public async Task Revisions_moves_fits_and_suspects_are_answered()
    {
        await lamps.TellAsync([.. lamps.Works.SimpleLamp(2, 100), .. lamps.Works.SimpleLamp(3, 200)]);
        Assert.NotEmpty((await client.GetRevisionDifferencesAsync("LAMP", "A", "B")).Changes);
        Assert.Equal(2, (await client.GetEffectivityAsync("LAMP")).Revisions.Count);
        var plan = await client.PlanMovesAsync("LAMP", new MovePlanQuestion { To = "B", From = "A", SerialFrom = "2", Reason = "Cure", AuthorisedBy = "P-9" });
        Assert.Equal(["2", "3"], plan.Units.Select(u => u.Unit.Serial));
        var fit = await client.AskFitAsync(new() { Item = "LAMP", Serial = "2" }, "WIRE", new() { Characteristic = "DEPTH", Sizes = [new() { Name = "5", Value = 5, Unit = "mm" }, new() { Name = "50", Value = 50, Unit = "mm" }] });
        Assert.True(fit.IsKnown);
        var found = await client.FindSharedFactorsAsync(new SharedFactorQuestion { Units = [Lamp, new() { Item = "LAMP", Serial = "2" }], Kinds = ["lot"] });
        Assert.NotNull(found);
    }

    [Fact]
    public async Task A_tool_that_is_due_is_an_alarm_until_it_is_calibrated_or_out_of_use()
    {
        Assert.DoesNotContain((await client.GetAlarmsAsync()).Alarms, a => a.Kind == "calibration-due");
        await lamps.TellAsync(
            lamps.Works.Define("tool-defined", 10, """ "tool":"SD-2","toolClass":"SCREWDRIVER","description":"Driver","needsCalibration":true"""),
            lamps.Works.Define("tool-calibrated", 20, $$""" "tool":"SD-2","foundGood":true,"leftGood":true,"validUntil":"{{lamps.Works.Time(1_000)}}" """));
        var alarm = await AlarmAsync();
        Assert.Equal((1L, At(1_000)), (alarm!.Count, alarm.Since));
        Assert.Contains("SD-2", alarm.Detail, StringComparison.Ordinal);

        await lamps.TellAsync(lamps.Works.Define("tool-withdrawn", 2_000, """ "tool":"SD-2","reason":"Due" """));
        Assert.Null(await AlarmAsync());
        await lamps.TellAsync(lamps.Works.Define("tool-calibrated", 2_100, $$""" "tool":"SD-2","foundGood":true,"leftGood":true,"validUntil":"{{lamps.Works.Time(100_000)}}" """), lamps.Works.Define("tool-reinstated", 2_200, """ "tool":"SD-2","reason":"Calibrated" """));
        Assert.Null(await AlarmAsync());

        // The service looks at most once a second.
        async Task<Contracts.Alarms.Alarm?> AlarmAsync()
        {
            await Task.Delay(1_100);
            return (await client.GetAlarmsAsync()).Alarms.FirstOrDefault(a => a.Kind == "calibration-due");
        }
    }

    private DateTimeOffset At(double minutes) => DateTimeOffset.Parse(lamps.Works.Time(minutes), System.Globalization.CultureInfo.InvariantCulture);
}
