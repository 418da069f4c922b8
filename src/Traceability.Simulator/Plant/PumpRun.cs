using System.Globalization;

namespace Traceability.Simulator.Plant;

/// <summary>The life of a pump: married, coated where coastal, closed, tested, released, shipped; and what goes wrong on the way.</summary>
internal sealed partial class PumpRun(Floor floor, int index, Func<string, DriveRun> driveOf) : UnitRun(floor, "FP-2", index)
{
    private readonly Dictionary<string, UnitId> _inside = new(StringComparer.Ordinal);
    private bool _ended;
    private bool _drips;
    private string _driver = string.Empty;

    private bool IsCoastal => Index % 4 == 3;

    private string Station => Index % 2 == 0 ? "FINAL-1" : "FINAL-2";

    private bool HasBadCase => Floor.Truth.Uses.Any(u => u.Unit == _inside["CASE"].ToString() && u.Item == Floor.Truth.BadItem && u.Lot == Floor.Truth.BadLot);

    /// <inheritdoc />
    public override IEnumerable<DateTimeOffset> Live(DateTimeOffset from)
    {
        At = Floor.Calendar.Fit(from, TimeSpan.FromMinutes(60));
        yield return At;
        Open(IsCoastal ? "FP-2C" : "FP-2");
        foreach (var moment in Gather().Concat(Assemble()).Concat(Leak()))
        {
            yield return moment;
        }

        if (_ended)
        {
            yield break;
        }

        foreach (var moment in RunTest().Concat(Complete()))
        {
            yield return moment;
        }
    }

    private IEnumerable<DateTimeOffset> Gather()
    {
        foreach (var (position, item) in new[] { ("CASE", "CA-2"), ("DRIVE", "DR-2"), ("HEAD", "HD-2") })
        {
            UnitId? found;
            while ((found = Floor.Fetch(item)) is null)
            {
                foreach (var moment in Wait(TimeSpan.FromMinutes(35)))
                {
                    yield return moment;
                }
            }

            _inside[position] = found.Value;
        }
    }

    private IEnumerable<DateTimeOffset> Assemble()
    {
        var marry = new StepWork("MARRY", Station, "FINAL-ASSEMBLY", Minutes(12, 20))
        {
            Announces = true,
            Begin = w => PutIn(w),
            Finish = w => w.Checks.Add(Body.Check("ALIGNED", true)),
        };
        foreach (var moment in Do(marry, Minutes(2, 6)))
        {
            yield return moment;
        }

        if (IsCoastal)
        {
            var coat = new StepWork("COAT", "COAT-1", "COATING", Minutes(8, 14))
            {
                Begin = w => Use(w, "COAT-5", "COATING", Random.Bell(1.5m, 0.1m, 2), "mL"),
                Finish = w => w.Checks.Add(Body.Check("COVERED", true)),
            };
            foreach (var moment in Do(coat, Minutes(5, 20)))
            {
                yield return moment;
            }
        }

        foreach (var moment in Do(Cover(rework: false), IsCoastal ? Minutes(370, 420) : Minutes(4, 12)))
        {
            yield return moment;
        }
    }

    private void PutIn(StepWork work)
    {
        foreach (var (position, component) in _inside)
        {
            Floor.Truth.PutIn(Unit, position, component, work.StartedAt);
            if (position == "HEAD" && Meets(TroubleKind.SerialNotScanned))
            {
                Hit(TroubleKind.SerialNotScanned, work.Step, component.ToString());
                continue;
            }

            work.Components.Add(Body.Component(position, component));
        }
    }

    private StepWork Cover(bool rework)
    {
        var unrecorded = !rework && Meets(TroubleKind.StepNotRecorded);
        var wrongSetting = !rework && Meets(TroubleKind.WrongClutchSetting);
        return new("COVER", Station, "FINAL-ASSEMBLY", Minutes(8, 14))
        {
            Announces = true,
            IsUnrecorded = unrecorded,
            IsRework = rework,
            Begin = w =>
            {
                Use(w, "OR-5", "O-RING", 2m, "1", !rework && Meets(TroubleKind.LotNotScanned) ? "lot" : "");
                Use(w, "GRS-4", "GREASE", Random.Bell(0.4m, 0.03m, 2), "g");
                if (IsCoastal)
                {
                    Use(w, "SK-1", "SEAL-KIT", 1m, "1");
                }

                _driver = Index % 4 < 2 ? Floor.Truth.BadTool : Floor.Tools.AtHand(w.StartedAt);
                w.Tools.Add(Body.Tool(_driver, wrongSetting ? "3" : "5"));
            },
            Finish = w =>
            {
                NoteCover(w, unrecorded, wrongSetting);
                var mean = wrongSetting ? 0.82m : 1.25m;
                for (var i = 1; i <= 4; i++)
                {
                    w.Measurements.Add(Body.Measurement(string.Create(CultureInfo.InvariantCulture, $"TORQUE-{i}"), Random.Bell(mean, 0.025m, 3), "N.m"));
                }
            },
        };
    }

    private void NoteCover(StepWork work, bool unrecorded, bool wrongSetting)
    {
        Floor.Truth.UsedTool(Unit, work, _driver);
        if (unrecorded)
        {
            Hit(TroubleKind.StepNotRecorded, "COVER", "done, not recorded");
        }

        if (wrongSetting)
        {
            Hit(TroubleKind.WrongClutchSetting, "COVER", $"{_driver} at 3 instead of 5");
        }

        if (_driver == Floor.Truth.BadTool && work.CompletedAt < Floor.FoundOutAt)
        {
            Hit(TroubleKind.DriverFoundOut, "COVER", _driver);

            // It gives less than it shows, and some covers are not tight.
            _drips = Floor.HasCauses && !work.IsRework && (Index == 4 || Random.Int(1, 100) <= 22);
        }

        if (_driver == ToolCare.Checked && work.CompletedAt >= Floor.Tools.LastGoodAt && work.CompletedAt < Floor.Tools.FailedAt)
        {
            Hit(TroubleKind.DriverFailedCheck, "COVER", _driver);
        }
    }

    private IEnumerable<DateTimeOffset> Leak()
    {
        var leaks = Floor.HasCauses && HasBadCase && Random.Int(1, 100) <= 60;
        var retest = !leaks && Meets(TroubleKind.Retested);
        foreach (var moment in Do(LeakTest(leaks || retest), Minutes(5, 15)))
        {
            yield return moment;
        }

        if (!leaks && !retest)
        {
            yield break;
        }

        if (leaks)
        {
            Hit(TroubleKind.LeakedForBadLot, "LEAK", _inside["CASE"].ToString());
        }

        Hit(TroubleKind.Retested, "LEAK", leaks ? "leaked again" : "connector was loose");
        foreach (var moment in Do(LeakTest(leaks), Minutes(3, 8)))
        {
            yield return moment;
        }

        if (leaks)
        {
            foreach (var moment in AfterLeak())
            {
                yield return moment;
            }
        }
    }

    private IEnumerable<DateTimeOffset> AfterLeak()
    {
        At = At.AddMinutes(10);
        yield return At;
        Decide("unit-held", new() { ["reason"] = "Leaks" });
        Hit(TroubleKind.Held, null, "leaks");
        var fate = Index % 3;
        foreach (var moment in Wait(TimeSpan.FromHours(20)))
        {
            yield return moment;
        }

        if (fate == 0)
        {
            _ended = true;
            yield break;
        }

        if (fate == 1 && Index % 2 == 1)
        {
            Decide("unit-scrapped", new() { ["reason"] = "Leaks, not worth another case" });
            Hit(TroubleKind.Scrapped, null, "leaks");
            _ended = true;
            yield break;
        }

        Decide("unit-hold-lifted", new() { ["reason"] = "Gets another case" });
        foreach (var moment in Replace("CASE", "CA-2", "LEAK", "leaks round the sensor"))
        {
            yield return moment;
        }

        Hit(TroubleKind.CaseReplaced, "MARRY", _inside["CASE"].ToString());
        foreach (var moment in Do(Cover(rework: true), Minutes(3, 6)).Concat(Do(LeakTest(leaks: false), Minutes(5, 10))))
        {
            yield return moment;
        }
    }

    // Takes a component out, and puts the next one from stock in, outside of any step.
    private IEnumerable<DateTimeOffset> Replace(string position, string item, string step, string reason)
    {
        var old = _inside[position];
        foreach (var moment in Wait(Minutes(10, 30)))
        {
            yield return moment;
        }

        var person = MasterData.Crew("FINAL-ASSEMBLY", Floor.Calendar.IsLateShift(At));
        Floor.Ledger.Send(Random.Id(), "component-removed", At, Station, Station, person, _ => new()
        {
            ["unit"] = Body.Unit(Unit), ["position"] = position, ["component"] = Body.Unit(old), ["reason"] = reason,
        }, Unit);
        Floor.Truth.TakenOut(Unit, old, At);
        UnitId? next;
        while ((next = Floor.Fetch(item)) is null)
        {
            foreach (var moment in Wait(TimeSpan.FromMinutes(35)))
            {
                yield return moment;
            }
        }

        At = At.AddMinutes(4);
        yield return At;
        _inside[position] = next.Value;
        Floor.Ledger.Send(Random.Id(), "component-installed", At, Station, Station, person, _ => new()
        {
            ["unit"] = Body.Unit(Unit), ["position"] = position, ["component"] = Body.Unit(next.Value), ["step"] = "MARRY",
        }, Unit);
        Floor.Truth.PutIn(Unit, position, next.Value, At);
        if (step == "LEAK")
        {
            Floor.Ledger.Send(Random.Id(), "unit-scrapped", At.AddMinutes(5), Senders.Quality, MasterData.Desk, "P-9", _ => new()
            {
                ["unit"] = Body.Unit(old), ["reason"] = "Leaks round the sensor",
            }, old);
            Floor.Truth.Hit(TroubleKind.Scrapped, old, null, "leaks round the sensor");
        }
    }

    private IEnumerable<DateTimeOffset> RunTest()
    {
        var swap = Meets(TroubleKind.SubassemblySwapped);
        var drips = _drips && !swap;
        var run = Run(noisy: swap, drips);
        foreach (var moment in Do(run, Minutes(5, 15)).Concat(drips ? AfterDrip(run) : []))
        {
            yield return moment;
        }

        if (!swap)
        {
            yield break;
        }

        var old = _inside["DRIVE"];
        Hit(TroubleKind.SubassemblySwapped, "RUN", $"{old} taken out");
        foreach (var moment in Replace("DRIVE", "DR-2", "RUN", "draws too much current"))
        {
            yield return moment;
        }

        Floor.Start(driveOf(old.Serial).Again(At), At);
        var again = Do(Cover(rework: true), Minutes(3, 6)).Concat(Do(LeakTest(leaks: false), Minutes(5, 10))).Concat(Do(Run(noisy: false), Minutes(5, 10)));
        foreach (var moment in again)
        {
            yield return moment;
        }
    }

    private IEnumerable<DateTimeOffset> AfterDrip(StepWork run)
    {
        Hit(TroubleKind.DripsForBadTool, "RUN", _driver);
        foreach (var moment in Wait(Minutes(10, 30)))
        {
            yield return moment;
        }

        Settle(run.Record!, ["defect-reported.DRIP"], "rework", "Drips at the cover: screw it again", () => new() { ["reopens"] = Body.Texts(["COVER"]) });
        var again = Do(Cover(rework: true), Minutes(3, 6)).Concat(Do(LeakTest(leaks: false), Minutes(5, 10))).Concat(Do(Run(noisy: false), Minutes(5, 10)));
        foreach (var moment in again)
        {
            yield return moment;
        }
    }

    private StepWork LeakTest(bool leaks) => new("LEAK", "TEST-1", "TESTING", Minutes(3, 5))
    {
        Announces = true,
        Begin = w => w.Tools.Add(Body.Tool("LT-1")),
        Finish = w =>
        {
            w.Measurements.Add(Body.Measurement("DECAY", leaks ? Random.Bell(95m, 8m, 1) : Random.Bell(24m, 4m, 1), "Pa"));
            if (leaks)
            {
                w.Defects.Add(Body.Defect("LEAK", "pressure falls"));
            }
        },
    };

    private StepWork Run(bool noisy, bool drips = false) => new("RUN", "TEST-1", "TESTING", Minutes(10, 15))
    {
        Finish = w =>
        {
            w.Measurements.Add(Body.Measurement("FLOW", Random.Bell(2.6m, 0.09m, 2), "L/min"));
            w.Measurements.Add(Body.Measurement("CURRENT", noisy ? 1.9m : Random.Bell(1.1m, 0.07m, 2), "A"));
            if (noisy)
            {
                w.Defects.Add(Body.Defect("NOISE", "drive grinds"));
            }

            if (drips)
            {
                w.Defects.Add(Body.Defect("DRIP", "drops under the cover"));
            }
        },
    };
}
