namespace Traceability.Simulator.Plant;

/// <summary>Which unit meets which trouble: fixed places in the run, so that each kind happens at every seed and size.</summary>
internal sealed class TroublePlan
{
    private readonly HashSet<(string Item, int Index, TroubleKind Kind)> _places = [];
    private readonly int[] _supervised;
    private readonly int _trainedAgain;
    private readonly int[] _unsigned;

    public TroublePlan(int finals)
    {
        _supervised = [62 * finals / 100, 66 * finals / 100];
        _trainedAgain = 88 * finals / 100;
        _unsigned = [91 * finals / 100, 93 * finals / 100, 95 * finals / 100];

        // The bad lot is in the cases from 33 to 50 hundredths: what would end the pumps over them lies elsewhere.
        void At(string item, TroubleKind kind, params int[] hundredths)
        {
            foreach (var place in hundredths)
            {
                _places.Add((item, place * finals / 100, kind));
            }
        }

        At("CA-2", TroubleKind.LotNotScanned, 12, 72);
        At("CA-2", TroubleKind.AdhesiveNotScanned, 38, 46);
        At("CA-2", TroubleKind.ContainerNotScanned, 16, 44, 71);
        At("CA-2", TroubleKind.LoadedTooEarly, 20, 47, 74);
        At("CA-2", TroubleKind.ClampedTooLong, 24, 52);
        At("CA-2", TroubleKind.SetInDoubt, 28);
        At("CA-2", TroubleKind.Rebonded, 32, 57, 77);
        At("CA-2", TroubleKind.LotCorrected, 36);
        At("CA-2", TroubleKind.CorrectionVoided, 40);
        At("CA-2", TroubleKind.UsedAfterQuarantine, 62);
        At("CA-2", TroubleKind.Scrapped, 68);
        At("CA-2", TroubleKind.ContainerPastLife, 90);
        At("CA-2", TroubleKind.PotLifeExceeded, 26, 79);
        At("CA-2", TroubleKind.MixRatioOff, 54);
        At("CA-2", TroubleKind.MixNotWeighed, 86);
        At("CA-2", TroubleKind.MixNotScanned, 58);
        At("HD-2", TroubleKind.StepNotRecorded, 18, 58);
        At("HD-2", TroubleKind.RecordVoided, 30);
        At("HD-2", TroubleKind.LotNotScanned, 42);
        At("HD-2", TroubleKind.Retested, 54);
        At("DR-2", TroubleKind.MovedToRevision, 50);
        At("DR-2", TroubleKind.ContainerNotScanned, 22);
        At("DR-2", TroubleKind.LoadedTooEarly, 34, 82);
        At("DR-2", TroubleKind.TransferTooSlow, 78);
        At("FP-2", TroubleKind.SerialNotScanned, 14, 80);
        At("FP-2", TroubleKind.StepNotRecorded, 26);
        At("FP-2", TroubleKind.SubassemblySwapped, 30, 64);
        At("FP-2", TroubleKind.WrongClutchSetting, 60);
        At("FP-2", TroubleKind.Unqualified, 76);
        At("FP-2", TroubleKind.LotNotScanned, 20, 70);
        At("FP-2", TroubleKind.Retested, 10, 84);
        At("HD-2", TroubleKind.QualificationExpired, 70);
        At("HD-2", TroubleKind.InputCorrected, 80);
        At("HD-2", TroubleKind.MovedInProcess, 84);
        At("CA-2", TroubleKind.SensorSentBack, 10, 82);
        At("FP-2", TroubleKind.Polished, 66);
        At("FP-2", TroubleKind.UsedAsIs, 74);
        At("FP-2", TroubleKind.ReportedByPerson, 88);
    }

    /// <summary>The place of the head that is moved to another revision while it is built.</summary>
    public static int MovedHead(int finals) => 84 * finals / 100;

    /// <summary>Whether a trainee works on this head, under another one's eyes.</summary>
    public bool IsSupervised(UnitRun run) => _supervised.Contains(run.Index);

    /// <summary>Whether somebody works on this head whose qualification had run out, and was granted anew.</summary>
    public bool IsTrainedAgain(UnitRun run) => _trainedAgain == run.Index;

    /// <summary>Whether this pump is left to be released by signature.</summary>
    public bool IsUnsigned(UnitRun run) => _unsigned.Contains(run.Index);

    /// <summary>Whether this unit, the index-th of its item, meets that.</summary>
    public bool Has(UnitRun run, TroubleKind kind) => _places.Contains((run.Unit.Item, run.Index, kind));
}
