using System.Globalization;

namespace Traceability.Simulator.Plant;

/// <summary>What the units of the plant share: the calendar, the shelves, the stock, and the queue of what happens next.</summary>
internal sealed class Floor
{
    private readonly PriorityQueue<IEnumerator<DateTimeOffset>, (DateTimeOffset At, int Order)> _next = new();
    private readonly Dictionary<string, Supply> _shelves = new(StringComparer.Ordinal);
    private readonly Dictionary<string, Queue<UnitId>> _stock = new(StringComparer.Ordinal);
    private readonly Dictionary<string, int> _bought = new(StringComparer.Ordinal);
    private int _order;

    // So many uses of a lot come after the end of its shelf life that is set later.
    private const int ExpiredUses = 3;

    public Floor(ulong seed, int finals, PlantCalendar calendar)
    {
        Seed = seed;
        Calendar = calendar;
        Ledger = new(calendar);
        Plan = new(finals);
        Climate = new(calendar, calendar.Days * 25 / 100);
        Tools = new(this, calendar.Days);
        Mixes = new(this);
        Oven = new(this);
        var lot = Math.Max(finals / 6, 4);
        Stock("ADH-1", "A", ["CASE-1", "CASE-2"], lot, 8, 0.08m, "g", 200, [3], quarantined: 2);
        Stock("TAPE-2", "T", ["CASE-1", "CASE-2"], lot, 0, 1m, "1", 400, [2, 5], expirySetEarlier: 3, care: new() { SharesSupplierLot = true });
        Stock("THL-3", "L", ["DRIVE-1"], lot, 12, 0.05m, "g", 300, []);
        Stock("BR-8", "B", ["OVEN-1"], lot, 0, 1m, "1", 3000, [], care: new() { NeedsInspection = true });
        Stock("SH-3", "S", ["HEAD-1"], lot, 0, 1m, "1", 3000, [], care: new() { CountsLot = 0, MergesLots = (1, 2) });
        Stock("GRS-4", "G", ["HEAD-1", "FINAL-1", "FINAL-2"], lot * 2, 0, 0.4m, "g", 700, [1], care: new() { RecertifiesLot = 1 });
        Stock("OR-5", "O", ["FINAL-1", "FINAL-2"], lot, 0, 2m, "1", 1500, [], care: new() { SplitsLot = 1 });
        Stock("SK-1", "K", ["FINAL-1", "FINAL-2"], lot / 2, 0, 1m, "1", 1500, [], care: new() { CountsLot = 0, BooksLoss = true });
        Stock("COAT-5", "C", ["COAT-1"], Math.Max(lot / 3, 2), 12, 1.5m, "mL", 200, []);
        Stock(MixBench.Resin, "R", ["CASE-1", "CASE-2"], Math.Max(finals / 9, 4), 10, 30m, "g", 300, []);
        Stock(MixBench.Hardener, "Q", ["CASE-1", "CASE-2"], Math.Max(finals / 7, 4), 10, 15m, "g", 300, [], care: new() { NeedsInspection = true });
        Stock("SN-6", "N", ["CASE-1", "CASE-2"], lot, 0, 1m, "1", 3000, []);
        Stock("BP-4", "E", ["FINAL-1", "FINAL-2"], lot, 0, 1m, "1", 3000, []);
        foreach (var item in new[] { "CA-2", "DR-2", "HD-2" })
        {
            _stock[item] = new();
        }
    }

    public ulong Seed { get; }

    public PlantCalendar Calendar { get; }

    public Ledger Ledger { get; }

    public TroublePlan Plan { get; }

    public PlantTruth Truth { get; } = new();

    /// <summary>Whether a lot, a tool and a container are bad.</summary>
    public bool HasCauses { get; init; } = true;

    public Climate Climate { get; }

    public ToolCare Tools { get; }

    public MixBench Mixes { get; }

    public Oven Oven { get; }

    /// <summary>The files that facts name.</summary>
    public List<Evidence> Files { get; } = [];

    /// <summary>Whether somebody has loaded a bond in the cold as early as on any other day.</summary>
    public bool HasLoadedInTheCold { get; set; }

    /// <summary>When the bad lot was taken from the stations; null while it isn't.</summary>
    public DateTimeOffset? QuarantinedAt { get; private set; }

    /// <summary>When the driver was found out.</summary>
    public DateTimeOffset FoundOutAt { get; set; }

    public Supply Shelf(string item) => _shelves[item];

    /// <summary>Starts a unit's life.</summary>
    public void Start(UnitRun run, DateTimeOffset at) => _next.Enqueue(run.Live(at).GetEnumerator(), (at, _order++));

    /// <summary>Starts something else that happens to a unit later on.</summary>
    public void Start(IEnumerable<DateTimeOffset> life, DateTimeOffset at) => _next.Enqueue(life.GetEnumerator(), (at, _order++));

    /// <summary>Lets everything happen, in order of time, up to the end of the simulation.</summary>
    public void Run()
    {
        while (_next.TryDequeue(out var life, out _))
        {
            if (life.MoveNext() && life.Current <= Calendar.Now)
            {
                _next.Enqueue(life, (life.Current, _order++));
            }
        }
    }

    /// <summary>Puts a released subassembly into stock.</summary>
    public void Store(UnitId unit) => _stock[unit.Item].Enqueue(unit);

    /// <summary>Takes the oldest subassembly; null while there is none.</summary>
    public UnitId? Fetch(string item) => _stock[item].TryDequeue(out var unit) ? unit : null;

    /// <summary>Takes the next bought serialised part, and makes it known.</summary>
    public UnitId Buy(string item, DateTimeOffset at)
    {
        var number = _bought[item] = _bought.GetValueOrDefault(item) + 1;
        var unit = new UnitId(item, string.Create(CultureInfo.InvariantCulture, $"{item[..1]}{number:00000}"));
        var taken = Shelf(item).Take(at);
        var opened = at.AddMinutes(-1);
        Truth.Used(unit, "RECEIPT", item, taken, opened);
        Ledger.Send(SplitMix.For(Seed, unit.ToString()).Id(), "unit-opened", opened, "PLAN-1", "PLAN-1", null, _ => new()
        {
            ["unit"] = Body.Unit(unit), ["lot"] = taken.Lot,
        }, unit);
        return unit;
    }

    private void Stock(
        string item, string prefix, string[] stations, int perLot, int perContainer, decimal perUse, string unit, int shelfDays,
        int[] untimed, int? quarantined = null, int? expirySetEarlier = null, LotCare? care = null)
    {
        var random = SplitMix.For(Seed, "shelf/" + item);
        _shelves[item] = new(new(item, prefix, stations, perLot, perContainer, perUse, unit, shelfDays, untimed) { Care = care ?? new() }, Ledger, random)
        {
            QuarantinedLot = quarantined,
            OnQuarantineDue = (lot, at) => Quarantine(item, lot, at, random),
            OnTake = (index, left, container, at) => Taken(item, index, left, container, at, quarantined, expirySetEarlier, random),
        };
    }

    private void Quarantine(string item, string lot, DateTimeOffset at, SplitMix random)
    {
        QuarantinedAt = at;
        Ledger.Send(random.Id(), "lot-quarantined", at, Senders.Quality, MasterData.Desk, "P-9", _ => new()
        {
            ["lot"] = Body.Lot(item, lot), ["reason"] = "Leak tests fail since it is in use",
        });
    }

    private void Taken(string item, int index, int left, string? container, DateTimeOffset at, int? quarantined, int? expirySetEarlier, SplitMix random)
    {
        var lot = Shelf(item).LotName(index);
        if (index == quarantined && Truth.BadLot.Length == 0)
        {
            (Truth.BadItem, Truth.BadLot) = (item, lot);
        }

        if (item == "THL-3" && index == 1 && Truth.BadContainer.Length == 0 && container is not null)
        {
            // The first container of the lot if there is no second one in it.
            var isLast = Shelf(item).Plan.UsesPerLot < 2 * Shelf(item).Plan.UsesPerContainer;
            Truth.BadContainerLot = lot;
            Truth.BadContainer = $"{lot}-{(isLast ? 1 : 2)}";
        }

        if (index == expirySetEarlier && ExpiredFrom is null && left <= ExpiredUses)
        {
            // The maker's notice comes later and says when the shelf life really ended: the rest was used after it.
            var expires = at.AddMinutes(-30);
            ExpiredFrom = (item, lot, expires);
            Ledger.Send(random.Id(), "lot-expiry-set", at.AddDays(2), Senders.Quality, MasterData.Desk, "P-9", shown => new()
            {
                ["lot"] = Body.Lot(item, lot), ["expiresAt"] = shown(expires), ["reason"] = "Notice of the maker",
            });
        }
    }

    /// <summary>The lot whose shelf life was set anew, and to when.</summary>
    public (string Item, string Lot, DateTimeOffset At)? ExpiredFrom { get; private set; }
}
