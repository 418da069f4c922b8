using System.Text.Json.Nodes;

namespace Traceability.Simulator.Plant;

/// <summary>The life of a case: lens on tape, sensor set, tested and bonded for good, loaded, its leads potted.</summary>
internal sealed class CaseRun(Floor floor, int index) : UnitRun(floor, "CA-2", index)
{
    private static readonly TimeSpan Whole = TimeSpan.FromMinutes(80);

    private string Station => Index % 2 == 0 ? "CASE-1" : "CASE-2";

    /// <summary>Where the demo leaves the case lying at its end; null: nowhere, it is finished.</summary>
    public string? StopsAfter { get; init; }

    /// <inheritdoc />
    public override IEnumerable<DateTimeOffset> Live(DateTimeOffset from)
    {
        At = StopsAfter is null ? Floor.Calendar.Fit(from, Whole) : from;
        yield return At;
        Open();
        var lens = Lens();
        foreach (var moment in Do(lens, TimeSpan.FromMinutes(1)))
        {
            yield return moment;
        }

        Correct(lens);
        if (StopsAfter == "LENS")
        {
            Hit(TroubleKind.LeftInClamp, "UNCLAMP", "left in its clamp");
            yield break;
        }

        foreach (var moment in Rest())
        {
            yield return moment;
        }
    }

    private IEnumerable<DateTimeOffset> Rest()
    {
        var clamped = TimeSpan.FromSeconds(Random.Int(330, 570));
        if (Meets(TroubleKind.ClampedTooLong))
        {
            clamped = TimeSpan.FromSeconds(850);
            Hit(TroubleKind.ClampedTooLong, "UNCLAMP", "clamped 14 min 10 s");
        }

        var unclamp = Plain("UNCLAMP", Minutes(1, 2), w => w.Checks.Add(Body.Check("EDGE", true)));
        foreach (var moment in Do(unclamp, clamped).Concat(Do(Position(), Minutes(1, 3))).Concat(Do(Bond(rework: false), Minutes(1, 3))))
        {
            yield return moment;
        }

        foreach (var moment in Test())
        {
            yield return moment;
        }
    }

    private IEnumerable<DateTimeOffset> Test()
    {
        var rebond = Meets(TroubleKind.Rebonded);
        var scrap = Meets(TroubleKind.Scrapped);
        foreach (var moment in Do(LoadTest(holds: !rebond && !scrap), Setting()))
        {
            yield return moment;
        }

        if (rebond)
        {
            Hit(TroubleKind.Rebonded, "SENSOR-BOND", "bonded again, the set time starts again");
            foreach (var moment in Do(Bond(rework: true), Minutes(5, 9)))
            {
                yield return moment;
            }

            foreach (var moment in Do(LoadTest(holds: true), Floor.Climate.Needed(At) + Minutes(2, 10)))
            {
                yield return moment;
            }
        }

        foreach (var moment in (scrap ? [] : Potting()).Concat(Wait(Minutes(8, 25))))
        {
            yield return moment;
        }

        if (scrap)
        {
            Hit(TroubleKind.Scrapped, null, "sensor came loose");
            Decide("unit-scrapped", new() { ["reason"] = "Sensor came loose under load" });
            yield break;
        }

        Release();
        Floor.Store(Unit);
    }

    // A pot that is left standing until it is surely over, and used all the same: somebody was called away.
    private IEnumerable<DateTimeOffset> Potting()
    {
        var over = Meets(TroubleKind.PotLifeExceeded) ? Floor.Mixes.Standing : null;
        var wait = Minutes(1, 3);
        if (over is not null && over.GoodUntil.AddMinutes(5) > At + wait)
        {
            wait = over.GoodUntil.AddMinutes(5) - At;
        }

        return Do(
            new("POT", Station, "BONDING", Minutes(3, 5))
            {
                Begin = w => Pour(w, over), Finish = w => w.Checks.Add(Body.Check("FILLED", true)),
            },
            wait);
    }

    private void Pour(StepWork work, Pot? over)
    {
        var pot = over ?? Floor.Mixes.For(work, isOff: Meets(TroubleKind.MixRatioOff), isUnweighed: Meets(TroubleKind.MixNotWeighed));
        var grams = Random.Bell(8m, 0.4m, 1);
        pot.Uses++;
        pot.Left -= grams;
        Floor.Truth.UsedPot(Unit, work.Step, pot, work.StartedAt);
        void HitIf(bool isSo, TroubleKind kind)
        {
            if (isSo)
            {
                Hit(kind, work.Step, pot.Lot);
            }
        }

        HitIf(over is not null, TroubleKind.PotLifeExceeded);
        HitIf(Meets(TroubleKind.MixNotScanned), TroubleKind.MixNotScanned);
        if (!Meets(TroubleKind.MixNotScanned))
        {
            HitIf(pot.IsOff, TroubleKind.MixRatioOff);
            HitIf(pot.IsUnweighed, TroubleKind.MixNotWeighed);
            work.Materials.Add(Body.Material(MixBench.Item, [pot.Lot], null, Body.Quantity(grams, "g"), "POTTING"));
        }
    }

    private TimeSpan Setting()
    {
        if (Meets(TroubleKind.LoadedTooEarly))
        {
            Hit(TroubleKind.LoadedTooEarly, "CASE-TEST", "loaded before the adhesive had set");
            return TimeSpan.FromSeconds(Random.Int(250, 420));
        }

        if (Meets(TroubleKind.SetInDoubt))
        {
            Hit(TroubleKind.SetInDoubt, "CASE-TEST", "loaded within the clocks' uncertainty of the minimum");
            return Floor.Climate.Needed(At) - TimeSpan.FromSeconds(1);
        }

        if (!Floor.HasLoadedInTheCold && Floor.Climate.IsCold(At) && !Meets(TroubleKind.AdhesiveNotScanned))
        {
            Floor.HasLoadedInTheCold = true;
            Hit(TroubleKind.LoadedTooEarlyByDose, "CASE-TEST", "loaded after twelve minutes in the cold");
            return TimeSpan.FromMinutes(12);
        }

        return Floor.Climate.Needed(At) + Minutes(1, 8);
    }

    private StepWork Plain(string step, TimeSpan length, Action<StepWork> finish) =>
        new(step, Station, "BONDING", length) { Announces = true, Finish = finish };

    private StepWork Lens()
    {
        var omission = Meets(TroubleKind.LotCorrected) ? "earlier-lot" : Meets(TroubleKind.LotNotScanned) ? "lot" : "";
        return new("LENS", Station, "BONDING", Minutes(3, 6))
        {
            Begin = w => Use(w, "TAPE-2", "TAPE", 1m, "1", omission),
            Finish = w => w.Checks.Add(Body.Check("CLEAN", true)),
        };
    }

    private StepWork Position() => new("SENSOR-POS", Station, "BONDING", Minutes(3, 5))
    {
        Begin = w =>
        {
            if (Meets(TroubleKind.SensorSentBack))
            {
                SendBack(Floor.Buy("SN-6", w.StartedAt), w.StartedAt);
            }

            var sensor = Floor.Buy("SN-6", w.StartedAt);
            w.Components.Add(Body.Component("SENSOR", sensor));
            Floor.Truth.PutIn(Unit, "SENSOR", sensor, w.StartedAt);
        },
        Finish = w =>
        {
            w.Measurements.Add(Body.Measurement("TRAVEL", Random.Bell(50m, 2.4m, 1), "%"));
            w.Checks.Add(Body.Check("SWITCHES", true));
        },
    };

    // A bought sensor gives no signal: reported with a trace, and sent back to its supplier.
    private void SendBack(UnitId sensor, DateTimeOffset at)
    {
        Floor.Truth.Hit(TroubleKind.SensorSentBack, sensor, null, "gives no signal");
        var trace = Evidence.Trace(Random);
        Floor.Files.Add(trace);
        var reported = Floor.Ledger.Send(Random.Id(), "nonconformance-reported", at, Station, Station, null, _ => new()
        {
            ["unit"] = Body.Unit(sensor), ["defect"] = "DEAD", ["description"] = "No signal on the bench", ["attachments"] = Body.Texts([trace.Hash]),
        }, sensor);
        var decided = Floor.Ledger.Send(Random.Id(), "nonconformance-disposed", at.AddHours(1), Senders.Quality, MasterData.Desk, "P-9", _ => new()
        {
            ["unit"] = Body.Unit(sensor), ["nonconformance"] = reported.Id.ToString(), ["disposition"] = "return-to-supplier", ["reason"] = "Dead on arrival",
        }, sensor, reported.Id);
        Floor.Ledger.Send(Random.Id(), "unit-shipped", at.AddHours(3), Senders.Quality, "STORE-1", "P-30", _ => new()
        {
            ["unit"] = Body.Unit(sensor), ["consignee"] = "Hollin Ferry Trading", ["orderReference"] = "RMA-" + sensor.Serial,
        }, sensor, decided.Id);
    }

    private StepWork Bond(bool rework) => new("SENSOR-BOND", Station, "BONDING", Minutes(1, 2))
    {
        Announces = true,
        IsRework = rework,
        Begin = w => TakeAdhesive(w, rework),
    };

    private void TakeAdhesive(StepWork work, bool rework)
    {
        var quantity = Random.Bell(0.08m, 0.01m, 3);
        Taken? forgotten = null;
        if (!rework && Meets(TroubleKind.ContainerPastLife))
        {
            forgotten = Floor.Shelf("ADH-1").TakeForgotten(0, 0, work.StartedAt.AddDays(-5));
            Hit(TroubleKind.ContainerPastLife, work.Step, forgotten!.Container!);
        }
        else if (!rework && Meets(TroubleKind.UsedAfterQuarantine) && Floor.QuarantinedAt < work.StartedAt)
        {
            forgotten = Floor.Shelf("ADH-1").TakeForgotten(2, 0, work.StartedAt);
            Hit(TroubleKind.UsedAfterQuarantine, work.Step, forgotten!.Container!);
        }

        var omission = !rework && Meets(TroubleKind.ContainerNotScanned) ? "container" : "";
        if (!rework && Meets(TroubleKind.AdhesiveNotScanned))
        {
            Hit(TroubleKind.AdhesiveNotScanned, work.Step, "neither lot nor container");
            omission = "lot";
        }

        Record(work, forgotten ?? Floor.Shelf("ADH-1").Take(work.StartedAt), "ADH-1", "ADHESIVE", quantity, "g", omission);
    }

    private StepWork LoadTest(bool holds) => Plain("CASE-TEST", Minutes(2, 4), w =>
    {
        w.Measurements.Add(Body.Measurement("OUTPUT", Random.Bell(500m, 4m, 1), "mV"));
        w.Checks.Add(Body.Check("HELD", holds));
        if (!holds)
        {
            w.Defects.Add(Body.Defect("LOOSE", "sensor moves"));
        }
    });

    // The wrong label was typed, and put right later; or a right record was "put right" and that was taken back.
    private void Correct(StepWork lens)
    {
        if (lens.Record is null || !(Meets(TroubleKind.LotCorrected) || Meets(TroubleKind.CorrectionVoided)))
        {
            return;
        }

        var right = Meets(TroubleKind.LotCorrected);
        var use = Floor.Truth.Uses.Last(u => u.Unit == Unit.ToString() && u.Step == "LENS");
        var replacement = (JsonObject)JsonNode.Parse(lens.Record.Json)!;
        replacement.Remove("factId");
        replacement["materials"]![0]!["lots"] = Body.Texts([right ? use.Lot : "T-WRONG"]);
        var correction = Floor.Ledger.Send(Random.Id(), "record-corrected", At.AddHours(3), Senders.Quality, MasterData.Desk, "P-9", _ => new()
        {
            ["record"] = lens.Record.Id, ["replacement"] = replacement, ["reason"] = "Label of the roll in use", ["authorisedBy"] = "P-9",
        }, Unit);
        Hit(TroubleKind.LotCorrected, "LENS", "lot put right");
        if (!right)
        {
            Floor.Ledger.Send(Random.Id(), "record-voided", At.AddHours(5), Senders.Quality, MasterData.Desk, "P-9", _ => new()
            {
                ["record"] = correction.Id, ["reason"] = "The first record was right", ["authorisedBy"] = "P-9",
            }, Unit);
            Hit(TroubleKind.CorrectionVoided, "LENS", "correction taken back");
        }
    }
}
