namespace Traceability.Simulator.Plant;

/// <summary>Builds the demo scenario: an invented firm that makes field pumps by hand, with realistic trouble in it.</summary>
/// <remarks>Same seed, number and end: the same facts, ids included, on any machine. Every figure in it is invented.</remarks>
public static class DemoPlant
{
    /// <summary>The fewest finals for which every kind of trouble has its place.</summary>
    public const int FinalsMin = 40;

    private const int PerDay = 8;

    /// <summary>Builds the plant and lets it run.</summary>
    /// <param name="seed">Chooses everything that is left to chance.</param>
    /// <param name="finals">How many pumps are begun, about 40 a week; at least <see cref="FinalsMin"/>.</param>
    /// <param name="now">The end of the simulation; its fractions of a second are dropped.</param>
    /// <param name="hasCauses">Whether a lot, a tool and a container are bad; without, what fails fails by chance alone.</param>
    public static PlantRun Build(ulong seed, int finals, DateTimeOffset now, bool hasCauses = true)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(finals, FinalsMin);
        var days = ((finals + 4) / PerDay) + 3;
        var calendar = new PlantCalendar(now, days);
        var floor = new Floor(seed, finals, calendar) { HasCauses = hasCauses };
        var revisionB = calendar.DayStart((finals / 2 / PerDay) + 1);
        var headB = calendar.DayStart((TroublePlan.MovedHead(finals) / PerDay) + 1);
        new MasterData(floor.Ledger, calendar, SplitMix.For(seed, "master-data"), new(seed, finals, calendar.Now)).SendFirst(revisionB, headB, PerDay);
        AddTerminals(floor, days);
        floor.Tools.Send();
        floor.Climate.Send(floor.Ledger, SplitMix.For(seed, "climate"));
        Populate(floor, finals, days, revisionB, headB);
        floor.Run();
        return new(seed, calendar.Now, [.. floor.Ledger.InOrder()], floor.Truth) { Files = floor.Files };
    }

    private static void AddTerminals(Floor floor, int days)
    {
        var seven = floor.Calendar.DayStart(days * 40 / 100).AddHours(4);
        floor.Ledger.Terminals.Add(new("DRIVE-1", seven, seven.AddHours(6), TimeSpan.FromDays(1), TimeSpan.FromMinutes(7)));
        var twentySix = floor.Calendar.DayStart(days * 60 / 100).AddHours(3);
        floor.Ledger.Terminals.Add(new("HEAD-1", twentySix, twentySix.AddHours(3), TimeSpan.FromDays(1), TimeSpan.FromHours(-26)));
    }

    // To revision B two housings each go through the oven together: the first one of them takes the other along.
    private static DriveRun[] DrivesAt(Floor floor, int index, DateTimeOffset at, DateTimeOffset revisionB)
    {
        if (at < revisionB)
        {
            return [new(floor, index, revisionB)];
        }

        if (index % OvenLoad.Units > 0)
        {
            return [];
        }

        var mate = new DriveRun(floor, index + 1, revisionB);
        return [mate, new(floor, index, revisionB) { Mate = mate }];
    }

    private static void Populate(Floor floor, int finals, int days, DateTimeOffset revisionB, DateTimeOffset headB)
    {
        var drives = new Dictionary<string, DriveRun>(StringComparer.Ordinal);
        var random = SplitMix.For(floor.Seed, "schedule");
        for (var index = 0; index < days * PerDay; index++)
        {
            var at = floor.Calendar.DayStart(index / PerDay).AddMinutes((index % PerDay) * 110);
            floor.Start(new CaseRun(floor, index), at.AddMinutes(random.Int(0, 8)));
            var driveAt = at.AddMinutes(random.Int(3, 20));
            foreach (var drive in DrivesAt(floor, index, at, revisionB))
            {
                drives[drive.Unit.Serial] = drive;
                if (drive.Index == index)
                {
                    floor.Start(drive, driveAt);
                }
            }

            floor.Start(new HeadRun(floor, index, headB), at.AddMinutes(random.Int(5, 30)));
        }

        for (var index = 0; index < finals; index++)
        {
            var at = floor.Calendar.DayStart((index / PerDay) + 2).AddMinutes((index % PerDay) * 110);
            floor.Start(new PumpRun(floor, index, serial => drives[serial]), at.AddMinutes(random.Int(10, 60)));
        }

        // Left lying at the end: a case long in its clamp, two fresh in it, and a housing that cools beside the oven.
        var last = days * PerDay;
        floor.Start(new CaseRun(floor, last) { StopsAfter = "LENS" }, floor.Calendar.Now.AddMinutes(-34));
        floor.Start(new CaseRun(floor, last + 1) { StopsAfter = "LENS" }, floor.Calendar.Now.AddMinutes(-9));
        floor.Start(new CaseRun(floor, last + 2) { StopsAfter = "LENS" }, floor.Calendar.Now.AddMinutes(-8));
        floor.Start(new DriveRun(floor, last, revisionB) { StopsAfter = "OVEN" }, floor.Calendar.Now.AddMinutes(-50));
    }
}

/// <summary>A plant that was simulated.</summary>
/// <param name="Seed">The seed.</param>
/// <param name="Now">The end of the simulation.</param>
/// <param name="Facts">All facts in the order in which they were sent; of one unit in causal order.</param>
/// <param name="Truth">What really happened.</param>
public sealed record PlantRun(ulong Seed, DateTimeOffset Now, IReadOnlyList<PlantFact> Facts, PlantTruth Truth)
{
    /// <summary>The files that facts name; to be stored first.</summary>
    public IReadOnlyList<Evidence> Files { get; init; } = [];
}
