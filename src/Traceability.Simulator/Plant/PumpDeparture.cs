using System.Globalization;

namespace Traceability.Simulator.Plant;

/// <summary>The end of a pump's life in the plant: battery, last look, release, shipment.</summary>
internal sealed partial class PumpRun
{
    private static readonly string[] Consignees = ["Wexmoor Water Survey", "Tarn Valley Hydrology", "Low Isle Borehole Services"];

    private IEnumerable<DateTimeOffset> Complete()
    {
        var battery = new StepWork("BATTERY", Station, "FINAL-ASSEMBLY", Minutes(3, 5))
        {
            Begin = w =>
            {
                var pack = Floor.Buy("BP-4", w.StartedAt);
                w.Components.Add(Body.Component("BATTERY", pack));
                Floor.Truth.PutIn(Unit, "BATTERY", pack, w.StartedAt);
            },
            Finish = w => w.Checks.Add(Body.Check("LATCHED", true)),
        };
        var look = new StepWork("FINAL-QC", "TEST-1", "FINAL-QC", Minutes(4, 8))
        {
            Person = Meets(TroubleKind.Unqualified) ? MasterData.Unqualified : null,
            Finish = LookOver,
        };
        foreach (var moment in Do(battery, Minutes(3, 10)).Concat(Do(look, Minutes(5, 30))).Concat(Wait(Minutes(20, 120))))
        {
            yield return moment;
        }

        Release();
        foreach (var moment in Ship())
        {
            yield return moment;
        }
    }

    private void LookOver(StepWork work)
    {
        if (work.Person == MasterData.Unqualified)
        {
            Hit(TroubleKind.Unqualified, "FINAL-QC", MasterData.Unqualified);
        }

        var scratched = Random.Chance(250);
        work.Checks.Add(Body.Check("LABEL", true));
        work.Checks.Add(Body.Check("LOOKS", !scratched));
        if (scratched)
        {
            work.Defects.Add(Body.Defect("SCRATCH", "on the cover"));
        }
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
            yield break;
        }

        Floor.Ledger.Send(Random.Id(), "unit-shipped", At, Senders.Quality, "STORE-1", "P-30", _ => new()
        {
            ["unit"] = Body.Unit(Unit),
            ["consignee"] = Random.Pick(Consignees),
            ["orderReference"] = string.Create(CultureInfo.InvariantCulture, $"SO-{1000 + Index}"),
        }, Unit);
        if (HasBadCase || Index == 3)
        {
            foreach (var moment in Wait(TimeSpan.FromDays(3)))
            {
                yield return moment;
            }

            if (Index % 5 == 0 || Index == 3)
            {
                Floor.Ledger.Send(Random.Id(), "unit-returned", At, Senders.Quality, "STORE-1", "P-30", _ => new()
                {
                    ["unit"] = Body.Unit(Unit), ["reason"] = "Water in the case",
                }, Unit);
                Hit(TroubleKind.Returned, null, "water in the case");
            }
        }
    }
}
