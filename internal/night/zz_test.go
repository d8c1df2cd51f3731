package night_test
import ("testing";"fmt";"fitsqa/internal/demo")
func TestZZ(t *testing.T){
 for _,sc:=range demo.Nights(){ if sc.Name!="narrowband-sparse"{continue}
  a:=analyse(t,sc)
  for i,s:=range a.result.Subs{ _=i
   f:=s.Field
   fmt.Printf("%s count %d fwhm %.2f±%.2f N%d e %.3f±%.3f ang %.0f coh %.2f±%.2f noise %.2f sky %.1f T %v sat %d align %+v %s\n",s.File,f.Count,f.FWHM.V,f.FWHM.Err,f.FWHM.N,f.Ellipticity.V,f.Ellipticity.Err,f.Angle.V,f.Coherence.V,f.Coherence.Err,s.NoiseADU.V,s.SkyADU.V,s.Transparency.Ratio,f.Saturated,len(s.Align.Pairs),s.Verdict)
   if i<6 {for k,st:=range f.Stars{ if k<14{fmt.Printf("   %.1f %.1f flux %.0f±%.0f snr %.1f fwhm %.2f e %.2f %.0f fit %v bl %v\n",st.X,st.Y,st.Flux,st.FluxErr,st.SNR,st.FWHM,st.Ellipticity,st.Angle,st.Fitted,st.Blended)}}}
  }
 }
}
