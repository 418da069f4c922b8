namespace Traceability.Simulator.Plant;

/// <summary>The life of a drive: hub threadlocked (revision A) or bearing dropped into a hot housing (revision B), then spun.</summary>
internal sealed class DriveRun(Floor floor, int index, DateTimeOffset revisionBFrom) : UnitRun(floor, "DR-2", index)
{
    private bool _comesLoose;
    private bool _isScrap;

    /// <summary>Where the demo leaves the drive lying at its end; null: nowhere, it is finished.</summary>
    public string? StopsAfter { get; init; }

    /// <summary>The drive whose housing soaks in the same load of the oven; null: this one has its serial before.</summary>
    public DriveRun? Mate { get; init; }

    /// <inheritdoc />
    public override IEnumerable<DateTimeOffset> Live(DateTimeOffset from)
    {
        At = StopsAfter is null ? Floor.Calendar.Fit(from, TimeSpan.FromMinutes(90)) : from;
        yield return At;
        if (Mate is not null)
        {
            foreach (var moment in SoakWithMate(Mate))
            {
                yield return moment;
            }

            yield break;
        }

        Open();
        var isB = At >= revisionBFrom;
        if (!isB && At >= revisionBFrom.AddDays(-4) && Meets(TroubleKind.MovedToRevision))
        {
            Hit(TroubleKind.MovedToRevision, null, "A to B before any step");
            Decide("unit-moved-to-revision", new()
            {
                ["revision"] = "B", ["carriesOver"] = new System.Text.Json.Nodes.JsonArray(),
                ["reason"] = "No hub of the old kind left", ["authorisedBy"] = "P-9",
            });
            isB = true;
        }

        foreach (var moment in isB ? HotFit() : Threadlock())
        {
            yield return moment;
        }

        foreach (var moment in StopsAfter is null ? Complete(isB) : [])
        {
            yield return moment;
        }
    }

    private IEnumerable<DateTimeOffset> Complete(bool isB)
    {
        var spin = Spin(comesLoose: _comesLoose);
        foreach (var moment in Do(spin, Cooling(isB)))
        {
            yield return moment;
        }

        if (_comesLoose)
        {
            foreach (var moment in AfterLoose(spin))
            {
                yield return moment;
            }
        }

        if (_isScrap)
        {
            yield break;
        }

        foreach (var moment in Wait(Minutes(5, 20)))
        {
            yield return moment;
        }

        Release();
        Floor.Store(Unit);
    }

    // Two housings soak as a batch; each gets its serial when it is taken up, hot, and its bearing at once.
    private IEnumerable<DateTimeOffset> SoakWithMate(DriveRun mate)
    {
        var isSlow = Meets(TroubleKind.TransferTooSlow) || mate.Meets(TroubleKind.TransferTooSlow);
        var load = Floor.Oven.Form(At, isSlow);
        foreach (var moment in load.Soak())
        {
            yield return moment;
        }

        if (load.HasDropped)
        {
            Hit(TroubleKind.HousingDropped, null, load.Name);
        }

        Floor.Start(load.End(), load.TakenUpAt(1));
        Floor.Start(mate.TakeUp(load, 1), load.TakenUpAt(1));
        foreach (var moment in TakeUp(load, 0))
        {
            yield return moment;
        }
    }

    private IEnumerable<DateTimeOffset> TakeUp(OvenLoad load, int place)
    {
        At = load.TakenUpAt(place);
        yield return At;
        OpenOutOf(load.Name, Oven.Station, load.Soaked!);
        if (load.IsSlow && place > 0)
        {
            Hit(TroubleKind.TransferTooSlow, "BEARING", load.Name);
        }

        foreach (var moment in Bearing(TimeSpan.FromSeconds(Random.Int(18, 25)), TimeSpan.FromSeconds(4)).Concat(Complete(isB: true)))
        {
            yield return moment;
        }
    }

    /// <summary>A drive that was taken out of a pump is spun again and goes back into stock.</summary>
    public IEnumerable<DateTimeOffset> Again(DateTimeOffset from)
    {
        At = from;
        foreach (var moment in Do(Spin(), Minutes(60, 120)))
        {
            yield return moment;
        }

        Hit(TroubleKind.Retested, "SPIN", "spun again after it was taken out");
        Floor.Store(Unit);
    }

    // The hub is locked once more, from another container, or the drive is scrapped.
    private IEnumerable<DateTimeOffset> AfterLoose(StepWork spin)
    {
        Hit(TroubleKind.LooseForBadContainer, "SPIN", Floor.Truth.BadContainer);
        foreach (var moment in Wait(Minutes(10, 40)))
        {
            yield return moment;
        }

        _isScrap = Index % 3 == 0;
        string[] found = ["defect-reported.LOOSE"];
        if (_isScrap)
        {
            var decided = Settle(spin.Record!, found, "scrap", "Hub came loose, shaft scored");
            At = At.AddMinutes(10);
            Decide("unit-scrapped", new() { ["reason"] = "Hub came loose" }, decided);
            Hit(TroubleKind.Scrapped, null, "hub came loose");
            yield break;
        }

        Settle(spin.Record!, found, "rework", "Hub came loose: clean and lock it again", () => new() { ["reopens"] = Body.Texts(["HUB-FIT"]) });
        foreach (var moment in Threadlock(rework: true).Concat(Do(Spin(), Minutes(242, 300))))
        {
            yield return moment;
        }
    }

    private TimeSpan Cooling(bool isB)
    {
        if (!Meets(TroubleKind.LoadedTooEarly))
        {
            return isB ? Minutes(11, 20) : Minutes(242, 330);
        }

        Hit(TroubleKind.LoadedTooEarly, "SPIN", isB ? "spun before it was hand-warm" : "spun before the threadlocker had cured");
        return isB ? TimeSpan.FromMinutes(6) : TimeSpan.FromMinutes(100);
    }

    private IEnumerable<DateTimeOffset> Threadlock(bool rework = false) => Do(
        new("HUB-FIT", "DRIVE-1", "DRIVES", Minutes(6, 10))
        {
            IsRework = rework,
            Begin = w =>
            {
                var omission = !rework && Meets(TroubleKind.ContainerNotScanned) ? "container" : "";
                var taken = Use(w, "THL-3", "LOCKER", Random.Bell(0.05m, 0.008m, 3), "g", omission);
                w.Tools.Add(Body.Tool("SD-03", "3"));
                _comesLoose = Floor.HasCauses && !rework && IsBad(taken) && IsLoose();
            },
            Finish = w => w.Measurements.Add(Body.Measurement("TORQUE", Random.Bell(1.05m, 0.035m, 3), "N.m")),
        },
        TimeSpan.FromMinutes(2));

    private IEnumerable<DateTimeOffset> HotFit()
    {
        var soak = TimeSpan.FromSeconds(Random.Int(930, 1500));
        var oven = new StepWork("OVEN", Oven.Station, "DRIVES", soak + TimeSpan.FromSeconds(30))
        {
            Begin = w =>
            {
                w.Tools.Add(Body.Tool("OV-1"));
                w.Marks.Add(("OVEN-IN", w.StartedAt.AddSeconds(20)));
                w.Marks.Add(("OVEN-OUT", w.StartedAt.AddSeconds(20) + soak));
            },

            // The oven's own display is in degrees Fahrenheit; the limits are in degrees Celsius.
            Finish = w => w.Measurements.Add(Body.Measurement("TEMPERATURE", Random.Bell(450m, 2.5m, 0), "[degF]")),
        };
        foreach (var moment in Do(oven, TimeSpan.FromMinutes(2), TimeSpan.FromMinutes(60)))
        {
            yield return moment;
        }

        if (StopsAfter == "OVEN")
        {
            yield break;
        }

        foreach (var moment in Bearing(TimeSpan.FromSeconds(Random.Int(25, 50)), TimeSpan.FromSeconds(8)))
        {
            yield return moment;
        }
    }

    private IEnumerable<DateTimeOffset> Bearing(TimeSpan length, TimeSpan wait) => Do(
        new("BEARING", Oven.Station, "DRIVES", length)
        {
            Announces = true,
            Begin = w => Use(w, "BR-8", "BEARING"),
            Finish = w => w.Checks.Add(Body.Check("SEATED", true)),
        },
        wait);

    private bool IsBad(Taken taken) => (taken.Lot, taken.Container) == (Floor.Truth.BadContainerLot, Floor.Truth.BadContainer);

    // Three of four; the first one surely.
    private bool IsLoose() =>
        !Floor.Truth.Uses.SkipLast(1).Any(u => u.Item == Floor.Truth.BadContainerItem && u.Container == Floor.Truth.BadContainer) || Random.Int(1, 4) <= 3;

    private StepWork Spin(bool comesLoose = false) => new("SPIN", "DRIVE-1", "DRIVES", Minutes(4, 7))
    {
        Announces = true,
        Finish = w =>
        {
            w.Measurements.Add(Body.Measurement("RUN-OUT", Random.Bell(0.028m, 0.006m, 3), "mm"));
            if (comesLoose)
            {
                w.Defects.Add(Body.Defect("LOOSE", "hub turns on the shaft"));
            }
        },
    };
}
