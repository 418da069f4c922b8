using System.Globalization;
using System.Text.Json.Nodes;

namespace Traceability.Simulator.Plant;

/// <summary>The end of a pump's life in the plant: battery, last look, what is decided about it, release, shipment; and service.</summary>
internal sealed partial class PumpRun
{
    private static readonly string[] Consignees = ["Wexmoor Water Survey", "Tarn Valley Hydrology", "Low Isle Borehole Services"];
    private static readonly string[] Scratched = ["check-failed.LOOKS", "defect-reported.SCRATCH"];

    private string _consignee = string.Empty;

    private IEnumerable<DateTimeOffset> Complete()
    {
        var look = Look(mayBeScratched: true);
        foreach (var moment in Do(Battery(rework: false), Minutes(3, 10)).Concat(Do(look, Minutes(5, 30))).Concat(Decided(look)))
        {
            yield return moment;
        }

        if (_ended)
        {
            yield break;
        }

        foreach (var moment in Wait(Minutes(20, 120)))
        {
            yield return moment;
        }

        if (Floor.Plan.IsUnsigned(this))
        {
            Floor.Truth.WaitsForSignature(Unit);
            yield break;
        }

        Release();
        foreach (var moment in Ship().Concat(Return()))
        {
            yield return moment;
        }
    }

    private StepWork Battery(bool rework) => new("BATTERY", Station, "FINAL-ASSEMBLY", Minutes(3, 5))
    {
        IsRework = rework,
        Begin = w =>
        {
            var pack = Floor.Buy("BP-4", w.StartedAt);
            w.Components.Add(Body.Component("BATTERY", pack));
            Floor.Truth.PutIn(Unit, "BATTERY", pack, w.StartedAt);
            _inside["BATTERY"] = pack;
        },
        Finish = w => w.Checks.Add(Body.Check("LATCHED", true)),
    };

    private StepWork Look(bool mayBeScratched, bool rework = false) => new("FINAL-QC", "TEST-1", "FINAL-QC", Minutes(4, 8))
    {
        IsRework = rework,
        Person = !rework && Meets(TroubleKind.Unqualified) ? MasterData.Unqualified : null,
        Finish = w => LookOver(w, mayBeScratched),
    };

    private void LookOver(StepWork work, bool mayBeScratched)
    {
        if (work.Person == MasterData.Unqualified)
        {
            Hit(TroubleKind.Unqualified, "FINAL-QC", MasterData.Unqualified);
        }

        var scratched = mayBeScratched && (Meets(TroubleKind.Polished) || Meets(TroubleKind.UsedAsIs) || Random.Chance(Floor.HasCauses ? 250 : 1_500));
        work.Checks.Add(Body.Check("LABEL", true));
        work.Checks.Add(Body.Check("LOOKS", !scratched));
        if (scratched)
        {
            work.Defects.Add(Body.Defect("SCRATCH", "on the cover"));
        }
    }

    // A scratch is polished out, or stays under a concession; a noise that nobody measured is reported and not decided yet.
    private IEnumerable<DateTimeOffset> Decided(StepWork look)
    {
        if (Meets(TroubleKind.Polished))
        {
            Hit(TroubleKind.Polished, "FINAL-QC", "scratch polished out");
            Settle(look.Record!, Scratched, "repair", "Polish it out", () => new() { ["reopens"] = Body.Texts(["FINAL-QC"]) });
            foreach (var moment in Do(Look(mayBeScratched: false, rework: true), Minutes(20, 40)))
            {
                yield return moment;
            }
        }

        if (Meets(TroubleKind.UsedAsIs))
        {
            Hit(TroubleKind.UsedAsIs, "FINAL-QC", "scratch under a concession");
            Settle(look.Record!, Scratched, "use-as-is", "Customer accepts it", () => new()
            {
                ["concession"] = new JsonObject { ["number"] = "CN-7", ["countMax"] = 1 },
            });
        }

        if (Meets(TroubleKind.ReportedByPerson))
        {
            Report();
            _ended = true;
        }
    }

    private void Report()
    {
        Hit(TroubleKind.ReportedByPerson, "RUN", "hums at times");
        var trace = Evidence.Trace(Random);
        Floor.Files.Add(trace);
        var reported = Floor.Ledger.Send(Random.Id(), "nonconformance-reported", At.AddMinutes(1), "TEST-1", "TEST-1", "P-20", _ => new()
        {
            ["unit"] = Body.Unit(Unit),
            ["step"] = "RUN",
            ["defect"] = "NOISE",
            ["description"] = "Hums at times; the trace shows a higher current then",
            ["attachments"] = Body.Texts([trace.Hash]),
        }, Unit);
        At = At.AddMinutes(15);
        Decide("nonconformance-taken-up", new() { ["nonconformance"] = reported.Id.ToString(), ["note"] = "Asked the maker of the motor" }, reported);
    }

    private IEnumerable<DateTimeOffset> Ship()
    {
        foreach (var moment in Wait(TimeSpan.FromHours(Random.Int(20, 70))))
        {
            yield return moment;
        }

        if (Floor.QuarantinedAt is not null && HasBadCase)
        {
            Decide("unit-held", new() { ["reason"] = "Adhesive lot under suspicion" });
            Hit(TroubleKind.Held, null, "adhesive lot under suspicion");
            _ended = true;
            yield break;
        }

        _consignee = Random.Pick(Consignees);
        Send(string.Create(CultureInfo.InvariantCulture, $"SO-{1000 + Index}"));
    }

    private void Send(string order) => Floor.Ledger.Send(Random.Id(), "unit-shipped", At, Senders.Quality, "STORE-1", "P-30", _ => new()
    {
        ["unit"] = Body.Unit(Unit), ["consignee"] = _consignee, ["orderReference"] = order,
    }, Unit);

    private IEnumerable<DateTimeOffset> Return()
    {
        var isSoon = Index == 3;
        if (_ended || !(HasBadCase || isSoon))
        {
            yield break;
        }

        foreach (var moment in Wait(TimeSpan.FromDays(3)))
        {
            yield return moment;
        }

        if (Index % 5 != 0 && !isSoon)
        {
            yield break;
        }

        Floor.Ledger.Send(Random.Id(), "unit-returned", At, Senders.Quality, "STORE-1", "P-30", _ => new()
        {
            ["unit"] = Body.Unit(Unit), ["reason"] = isSoon ? "Battery does not charge" : "Water in the case",
        }, Unit);
        Hit(TroubleKind.Returned, null, isSoon ? "battery does not charge" : "water in the case");
        foreach (var moment in isSoon ? Service() : [])
        {
            yield return moment;
        }
    }

    // The battery is replaced and the pump goes back: what was built and what is maintained differ from then on.
    private IEnumerable<DateTimeOffset> Service()
    {
        foreach (var moment in Wait(TimeSpan.FromHours(18)))
        {
            yield return moment;
        }

        var old = _inside["BATTERY"];
        var person = MasterData.Crew("FINAL-ASSEMBLY", Floor.Calendar.IsLateShift(At));
        Floor.Ledger.Send(Random.Id(), "component-removed", At, Station, Station, person, _ => new()
        {
            ["unit"] = Body.Unit(Unit), ["position"] = "BATTERY", ["component"] = Body.Unit(old), ["reason"] = "Does not charge",
        }, Unit);
        Floor.Truth.TakenOut(Unit, old, At);
        foreach (var moment in Do(Battery(rework: true), Minutes(5, 20)).Concat(Do(Look(mayBeScratched: false, rework: true), Minutes(5, 30))).Concat(Wait(Minutes(20, 60))))
        {
            yield return moment;
        }

        Release();
        foreach (var moment in Wait(TimeSpan.FromHours(20)))
        {
            yield return moment;
        }

        Send(string.Create(CultureInfo.InvariantCulture, $"SV-{1000 + Index}"));
    }
}
